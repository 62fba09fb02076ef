"""The web room of calc: the stateless calculations over HTTP."""
