import re
from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.db.models import Model

from api.edge.change_log import log_creation
from api.edge.scope import limit_to
from api.models import AccessToken, Role
from drives.models import Plant
from inventory.models import Storeroom

SCOPE = re.compile(r"([a-z-]+|\*):(read|write)")


class Command(BaseCommand):
    help = "Make an access token. It is printed once, as the last word; only its hash is stored."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="who or what will use the token")
        parser.add_argument("--role", required=True, choices=Role.values)
        parser.add_argument("--days", type=int, help="days until it expires; without it, it does not")
        parser.add_argument("--user", help="whose token it is: it can do no more than this user")
        parser.add_argument("--plant", action="append", default=[], help="code; it can see no other plant")
        parser.add_argument(
            "--storeroom",
            action="append",
            default=[],
            help="code; it can see no other storeroom. With --plant alone: those that serve the plants",
        )
        parser.add_argument(
            "--scope",
            action="append",
            default=[],
            help="such as movements:write or *:read; it can do nothing else",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        name, days = options["name"].strip(), options["days"]
        if not name or len(name) > 100:
            raise CommandError("The name must have 1 to 100 characters.")
        if days is not None and not 1 <= days <= 3650:
            raise CommandError("--days must be from 1 to 3650.")
        plants = [found(Plant, "plant", code) for code in options["plant"]]
        storerooms = [found(Storeroom, "storeroom", code) for code in options["storeroom"]]
        with transaction.atomic():
            token, secret = AccessToken.objects.issue(
                name,
                role=options["role"],
                days=days,
                scopes=scopes(options["scope"]),
                user=found(User, "user", options["user"], field="username") if options["user"] else None,
            )
            log_creation(token)
            if plants or storerooms:
                limit_to({"token": token}, plants, storerooms)
        self.stdout.write(f"Token for {token.name} with the role {token.role}: {secret}")


def found(model: type[Model], kind: str, code: str, *, field: str = "code") -> Any:
    record = model._default_manager.filter(**{field: code}).first()
    if record is None:
        raise CommandError(f"There is no {kind} {code!r}.")
    return record


def scopes(given: list[str]) -> list[str]:
    wrong = [one for one in given if not SCOPE.fullmatch(one)]
    if wrong:
        raise CommandError(f"{wrong[0]!r} is no scope: give RESOURCE:read or RESOURCE:write.")
    return sorted(set(given))
