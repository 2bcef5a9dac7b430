"""`manage.py demo`: the demo plant with users and tokens, and a server on this machine."""

import secrets
import time
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from api.exchange.files import read_file
from api.exchange.results import ImportResult
from api.exchange.run import import_stream
from api.exchange.tables import KINDS
from api.models import AccessToken, Role
from api.operations.serving import become_server
from api.wording.sentences import sentence
from drives.demand.recompute import recompute
from drives.duplicates.groups import find_duplicates
from drives.models import Equipment, Plant, WorkOrder
from inventory.models import Item, StockEntry, StockingRun, Storeroom

FILES = settings.BASE_DIR / "fixtures" / "demo"
ADDRESS = "127.0.0.1:8000"
ERRORS_SHOWN = 10
TOKEN_DAYS = 30
RECORDS = (Plant, Storeroom, Item, Equipment, StockEntry, WorkOrder)


class Command(BaseCommand):
    help = "Loads the demo plant, prints a user and a token per role, and serves it on this machine."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="Stop before serving.")
        parser.add_argument("--bind", default=ADDRESS, help=f"Where to serve; {ADDRESS} if left out.")

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError("The demo plant must not be loaded in production: unset PRODUCTION.")
        call_command("migrate", verbosity=0, interactive=False)
        self.load()
        self.recommend()
        self.make_accounts()
        self.stdout.write(
            f"The pages are at http://{options['bind']}/, the API at http://{options['bind']}/api/v1/."
        )
        self.stdout.flush()
        if not options["no_serve"]:
            # One process with a few threads, and the scheduler inside.
            become_server("--bind", options["bind"], "--workers", "1", SCHEDULER_INSIDE="true")

    def load(self) -> None:
        self.refuse_beside_others()
        if Plant.objects.exists():
            self.stdout.write("The demo plant is loaded already: nothing was changed.")
            return
        begun = time.monotonic()
        with transaction.atomic():
            rows = sum(self.load_file(kind, path) for kind, path in demo_files())
        self.stdout.write(f"The demo plant is loaded: {rows} rows in {time.monotonic() - begun:.1f} s.")

    def refuse_beside_others(self) -> None:
        """Whatever is recorded here and is not the demo's would be changed by it, or mixed up with it."""
        found = others()
        if found:
            raise CommandError(
                f"This database holds {found}, which the demo plant does not: nothing was changed. Name an empty "
                "database for the demo, such as DATABASE_URL=sqlite:///demo.sqlite3, or use `serve` for this one."
            )

    def recommend(self) -> None:
        """Once: how many of each part to keep, so that there is something to decide."""
        if StockingRun.objects.exists():
            return
        begun = time.monotonic()
        run = recompute(as_of=timezone.now(), by="demo")
        self.stdout.write(
            f"Recommendations were calculated for {run.total} parts in storerooms in {time.monotonic() - begun:.1f} s."
        )
        self.stdout.write(f"{find_duplicates(timezone.now())} parts are kept under several numbers.")

    def load_file(self, kind: str, path: Path) -> int:
        with path.open("rb") as stream:
            result = import_stream(kind, stream, name=path.name, by="demo")
        if not result.is_accepted:
            raise CommandError("\n".join([f"{path.name} was not accepted.", *complaints(result)]))
        return result.counts.total()

    def make_accounts(self) -> None:
        known = 0
        for role in Role.values:
            group, _ = Group.objects.get_or_create(name=role)
            known += self.make_user(role, group) + self.make_token(role)
        if known:
            self.stdout.write("Users and tokens of earlier runs exist already; their secrets stay the same.")

    def make_user(self, role: str, group: Group) -> bool:
        """Whether the user was there before."""
        people, name = get_user_model().objects, f"demo-{role}"
        if people.filter(username=name).exists():
            return True
        password = secrets.token_urlsafe(12)
        user = people.create_user(username=name, password=password)
        user.groups.add(group)
        self.stdout.write(f"User {name} with the role {role}, password {password}")
        return False

    def make_token(self, role: str) -> bool:
        """Whether the token was there before."""
        name, now = f"demo-{role}", timezone.now()
        if any(token.is_usable(now) for token in AccessToken.objects.filter(name=name)):
            return True
        _, secret = AccessToken.objects.issue(name, role=role, days=TOKEN_DAYS)
        self.stdout.write(f"Token {name} with the role {role}, for {TOKEN_DAYS} days: {secret}")
        return False


def demo_files() -> Iterator[tuple[str, Path]]:
    """The files that have rows, in the order of loading."""
    for kind in KINDS:
        for path in (FILES / f"{kind}.csv", FILES / f"{kind}.ndjson"):
            if path.exists() and len(path.read_bytes().splitlines()) > 1:
                yield kind, path


def demo_plants() -> dict[str, str]:
    """Their names by code."""
    path = FILES / "plants.csv"
    with path.open("rb") as stream:
        sheet = read_file(stream, name=path.name)
        rows = [sheet.named(row) for row in sheet.rows]
        return {str(row["code"]): str(row["name"]) for row in rows}


def others() -> str:
    """What is recorded and is not the demo's; empty where there is nothing."""
    plants, own = dict(Plant.objects.values_list("code", "name")), demo_plants()
    if plants:
        strange = [code for code in sorted(plants) if own.get(code) != plants[code]]
        return f"the plant {strange[0]} ({plants[strange[0]]})" if strange else ""
    for model in RECORDS:
        if count := model._default_manager.count():
            return f"{count} {model._meta.verbose_name_plural if count > 1 else model._meta.verbose_name}"
    names = get_user_model().objects.exclude(username__startswith="demo-").values_list("username", flat=True)
    return f"the user {names[0]}" if names else ""


def complaints(result: ImportResult) -> list[str]:
    found = [
        f"line {row.line}, {error.column}: {sentence(error.fact)}"
        for row in result.row_results
        for error in row.errors
    ]
    return [*map(sentence, result.problems), *found[:ERRORS_SHOWN]]
