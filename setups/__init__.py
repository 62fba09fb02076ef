"""Bikes and jobs: customers, cards, readings, settings, the sealed record."""
