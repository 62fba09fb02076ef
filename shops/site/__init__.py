"""The site: settings from the environment, addresses, the WSGI application."""
