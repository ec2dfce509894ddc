"""The pages as a WSGI application for the server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "evenpull.store.settings")
application = get_wsgi_application()
