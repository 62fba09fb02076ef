"""Commands of the shops room."""
