"""The door for a WSGI server: `gunicorn api.wsgi`."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
application = get_wsgi_application()
views = get_resolver().url_patterns
# What is loaded stays, all views with it: to look through all of it again stopped one answer in twenty for 0.1 s.
gc.collect()
gc.freeze()

from api.operations.scheduling.inside import start_scheduler_inside  # noqa: E402 - models need the application set up

start_scheduler_inside()
