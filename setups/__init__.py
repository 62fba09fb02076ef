"""Customers, bikes, job cards and what hangs on them, and the sealed record."""
