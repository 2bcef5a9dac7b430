"""`manage.py unlock_logins`: who was shut out by failed logins, their own or those of others, may try again at once."""

from typing import Any

from django.core.management.base import BaseCommand

from api.edge.logins import forget_failures


class Command(BaseCommand):
    help = "Forgets all failed logins, so that every lock on a name or an address ends at once. The log still names them."

    def handle(self, *args: Any, **options: Any) -> None:
        failures, names, addresses = forget_failures()
        self.stdout.write(
            f"Failed logins forgotten: {failures}, of names: {names}, from addresses: {addresses}."
        )
