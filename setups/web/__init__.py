"""The API of setups."""
