"""How gunicorn serves, here and in production: `gunicorn -c python:api.operations.gunicorn_settings`, or `manage.py serve`.

Every name below that gunicorn knows is one of its settings.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from api.edge.log_settings import log_settings
from api.environment import ENVIRONMENT as GIVEN

HOUSE = Path(__file__).resolve().parents[2]

wsgi_app = "api.wsgi"
bind = GIVEN["BIND"]
workers = GIVEN["WEB_CONCURRENCY"]
threads = GIVEN["WEB_THREADS"]
# A long address reaches the service, which refuses it in its own form.
limit_request_line = 8_190
# What is under way when the service is stopped may end; a receiver of events that is slow may not hold it up.
graceful_timeout = 10
timeout = 120
control_socket_disable = True
# The server's lines go the way of all others, in one form.
logconfig_dict = log_settings(GIVEN["LOG_FORMAT"], GIVEN["LOG_LEVEL"], names_requests=GIVEN["ACCESS_LOG"])
access_log_format = "%(h)s %(m)s %(U)s %(s)s %(B)s bytes %(M)s ms"
"""Without the query: it may hold what somebody searched for."""


# Where the processes of this server count their requests together; set before any of them imports the counters.
os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", tempfile.mkdtemp(prefix="spares-metrics-"))


def child_exit(server: Any, worker: Any) -> None:
    from prometheus_client.multiprocess import mark_process_dead  # noqa: PLC0415 - not before its folder is named

    mark_process_dead(worker.pid)  # type: ignore[no-untyped-call]


def on_exit(server: Any) -> None:
    shutil.rmtree(os.environ["PROMETHEUS_MULTIPROC_DIR"], ignore_errors=True)


def on_starting(server: Any) -> None:
    """Once, before the first process serves: static files by hashed names, compressed."""
    if not GIVEN["PRODUCTION"]:
        return
    # In a process of its own: what this one imports, those that serve would inherit after a reload.
    command = [
        sys.executable,
        "-P",
        "-m",
        "django",
        "collectstatic",
        "--noinput",
        "--clear",
        "--verbosity",
        "0",
    ]
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "api.settings",
        "PYTHONPATH": str(HOUSE),
    }
    # The settings are read by those who serve, after this.
    if subprocess.run(command, env=environment, check=False).returncode:
        server.log.warning("Static files could not be collected: they are served as they are.")
