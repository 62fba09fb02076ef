"""What `manage.py` can do here: `words` collects the texts that are translated."""
