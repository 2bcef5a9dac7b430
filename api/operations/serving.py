"""How the server is called, by `manage.py serve` and by the demo plant alike."""

import os
import sys
from typing import NoReturn

from django.conf import settings
from django.db import connection


def become_server(*options: str, **environment: str) -> NoReturn:
    """This process goes on as gunicorn. The folder it was started in stays, as a database address may be relative to it."""
    connection.close()
    command = [sys.executable, "-P", "-m", "gunicorn", "-c", "python:api.operations.gunicorn_settings"]
    command += ["--pythonpath", str(settings.BASE_DIR), *options]
    os.execve(sys.executable, command, {**os.environ, **environment})
