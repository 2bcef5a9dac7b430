"""`manage.py serve`: gunicorn with the settings of this house."""

from typing import Any

from django.core.management.base import BaseCommand

from api.operations.serving import become_server


class Command(BaseCommand):
    help = "Serves with gunicorn: BIND, WEB_CONCURRENCY and WEB_THREADS say where and with how many processes and threads."

    def handle(self, *args: Any, **options: Any) -> None:
        become_server()
