from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from api.models import AccessToken, Role


class Command(BaseCommand):
    help = "Make an access token. It is printed once, as the last word; only its hash is kept."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="who or what will use the token")
        parser.add_argument("--role", required=True, choices=Role.values)
        parser.add_argument("--days", type=int, help="days until it expires; without it, it does not")

    def handle(self, *args: Any, **options: Any) -> None:
        name, days = options["name"].strip(), options["days"]
        if not name or len(name) > 100:
            raise CommandError("The name must have 1 to 100 characters.")
        if days is not None and not 1 <= days <= 3650:
            raise CommandError("--days must be from 1 to 3650.")
        token, secret = AccessToken.objects.issue(name, role=options["role"], days=days)
        self.stdout.write(f"Token for {token.name} with the role {token.role}: {secret}")
