"""Businesses, their shops and people, workshop tools, the spring list and the audit trail."""
