"""The application as a web server loads it."""

import os

from django.core.wsgi import get_wsgi_application

from witnessmark.shop.opening import open_store

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.shop.settings")
application = get_wsgi_application()
open_store()
