"""The WSGI application that the production server runs."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shops.site.settings")
application = get_wsgi_application()

from shops.site import pack  # noqa: E402 - the settings are read first

# Here and now: workers forked from this process have the packs with it, and no lock that a thread of its held.
pack.warm()
