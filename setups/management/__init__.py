"""Commands of the setups room."""
