"""The API of shops, and the base of every view that answers rows."""
