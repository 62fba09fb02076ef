"""The site: settings, addresses, headers, and the answers outside the API."""
