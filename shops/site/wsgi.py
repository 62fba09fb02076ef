"""The WSGI application that the production server runs."""

import os
import threading

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shops.site.settings")
application = get_wsgi_application()

from shops.site import pack  # noqa: E402 - needs the settings

threading.Thread(target=pack.warm, name="pack", daemon=True).start()
