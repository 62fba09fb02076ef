"""The sealed record: its document, its chain, its PDF, the customer's page and the links to it."""
