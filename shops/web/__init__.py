"""The part of shops that knows the web: who may call what, and how it is answered."""
