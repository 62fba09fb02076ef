"""What `manage.py` can do here: `start` serves, `demo` builds an invented business, `verify` checks seals."""
