"""The door for a WSGI server: `gunicorn api.wsgi`."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
application = get_wsgi_application()

from api.operations.scheduling.inside import start_scheduler_inside  # noqa: E402 - models need the application set up

start_scheduler_inside()
