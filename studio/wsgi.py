"""The WSGI application that the server loads."""

import os

from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application

from studio.required_settings import lacking
from studio.supervising import end_with

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
os.environ.setdefault(
    "ARCHWRIGHT_WAIT_S", "2.5"
)  # whoever asks for a page has an answer within three
if server := os.environ.get("ARCHWRIGHT_SERVED_BY"):
    end_with(int(server))
application = get_wsgi_application()
if sentences := lacking():
    raise ImproperlyConfigured(" ".join(sentences))
