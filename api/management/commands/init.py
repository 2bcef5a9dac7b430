"""`manage.py init`: from an empty database to a plant with an administrator, storerooms and people. Safe to run again."""

import getpass
from argparse import ArgumentParser
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from django.conf import settings
from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from api.edge.caller import acting_as
from api.models import Role
from api.operations.first_plant import (
    GivenStoreroom,
    NotUnderstood,
    Opening,
    Person,
    code_and_name,
    has_administrator,
    known_zone,
    make_administrator,
    make_person,
    make_plant,
    make_storeroom,
    opening_hours,
    person_of,
    storeroom_of,
)
from api.screens.account.passwords import link_to_set_password
from drives.models import Plant
from inventory.models import Storeroom

T = TypeVar("T")
CodeAndName = tuple[str, str]
Hours = tuple[Opening, ...]
LOCAL_TIME = Path("/etc/localtime")
NEXT = f"""
What to do next:
  1. Start the service:                {settings.PROGRAM} serve
     and beside it:                    {settings.PROGRAM} run_scheduler
  2. Log in, open /imports/ and send your own spreadsheets, or templates that you filled; /help/first-day/ leads through it.
     On this computer:                 {settings.PROGRAM} templates FOLDER
     and then:                         {settings.PROGRAM} import_files FOLDER
  3. /planning/missing/ says which places cannot be judged yet, and for want of what.
  4. /planning/settings/ has the currency and the cost of holding stock, before anything is recommended.
More people: {settings.PROGRAM} init --person NAME:ROLE, or /admin/ (a group there is a role; /help/roles/ says what each may do)."""


def refuse_beside_demo() -> None:
    """A plant of one's own would be mixed up with an invented one."""
    if User.objects.filter(username__in=[f"demo-{role}" for role in Role.values]).exists():
        raise CommandError(
            "This database holds the demo plant: nothing was changed. Name another one for your own plant, such as "
            f"DATABASE_URL=sqlite:///{settings.HOME}/own.sqlite3, here and for the service."
        )


@dataclass(frozen=True)
class WantedPlant:
    """What options and answers say; empty where nothing is to be made."""

    admin: str
    password: str
    zone: str
    storerooms: list[GivenStoreroom]
    hours: dict[str, Hours]
    plant: CodeAndName | None
    people: list[Person]


class Command(BaseCommand):
    help = (
        "Prepares a new service: migrates, and makes the first administrator, the plant, its storerooms with time zone and "
        "opening hours, and people with roles. Asks for what no option says. Run again, it adds what is new and changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-input", action="store_false", dest="ask", help="Ask nothing.")
        parser.add_argument("--admin", metavar="NAME", help="User name of the first administrator.")
        parser.add_argument("--plant", metavar="CODE=NAME", help="Such as OM=Ommergast.")
        parser.add_argument(
            "--timezone",
            metavar="ZONE",
            help="Of the plant, and of storerooms that name none of their own, such as Europe/Vienna.",
        )
        parser.add_argument(
            "--storeroom",
            metavar="CODE=NAME[@ZONE]",
            action="append",
            default=[],
            help="May be given more than once; the first serves the plant.",
        )
        parser.add_argument(
            "--hours",
            metavar="[CODE:] HOURS",
            action="append",
            default=[],
            help="Of the storeroom CODE, or of all: 'Mon-Fri 06:00-22:00, Sat 06:00-14:00' (or Mo-Fr, Sa), or 24/7.",
        )
        parser.add_argument(
            "--person",
            metavar="NAME:ROLE[:PLANT]",
            action="append",
            default=[],
            help=f"May be given more than once. Roles: {', '.join(Role.values)}. With a plant, they see no other.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        self.asks = options["ask"]
        self.stdout.write("Preparing the database: this takes up to a minute the first time.")
        self.stdout.flush()
        call_command("migrate", verbosity=0, interactive=False)
        refuse_beside_demo()
        try:
            wanted = self.wanted(options)
            with acting_as("init"), transaction.atomic():
                self.make(wanted)
        except NotUnderstood as error:
            raise CommandError(f"{error} Nothing was changed.") from error
        except (KeyboardInterrupt, EOFError) as error:
            raise CommandError("Stopped. Nothing was changed.") from error
        self.stdout.write(NEXT)

    def wanted(self, options: dict[str, Any]) -> "WantedPlant":
        """All questions come first: nothing is locked while somebody thinks."""
        admin, password = self.administrator(options["admin"])
        zone = self.zone(options)
        storerooms, hours = self.storerooms(options)
        people = [person_of(one) for one in options["person"]]
        plant = self.plant(options["plant"])
        while self.asks and not options["person"]:
            found = self.answer("A person, as NAME:ROLE (empty: nobody more)", "", person_of)
            if found is None:
                break
            people.append(found)
        return WantedPlant(admin, password, zone, storerooms, hours, plant, people)

    def administrator(self, name: str | None) -> tuple[str, str]:
        """Name and password of the first one; both empty where there is one."""
        if has_administrator():
            if name and not User.objects.filter(username=name).exists():
                raise NotUnderstood("There is an administrator already, who makes others on /admin/.")
            return "", ""
        name = name or self.answer("User name of the first administrator", "admin", str)
        if name is None:
            raise NotUnderstood("There is no administrator yet: give --admin NAME.")
        return name, self.password(name) if self.asks else ""

    def password(self, name: str) -> str:
        while True:
            given = getpass.getpass(f"Password of {name}: ")
            try:
                validate_password(given, User(username=name))
            except ValidationError as error:
                self.stderr.write(" ".join(error.messages))
                continue
            if given == getpass.getpass("The same again: "):
                return given
            self.stderr.write("These were two different passwords.")

    def zone(self, options: dict[str, Any]) -> str:
        """The clock of the plant; asked for where something is made that has one."""
        if options["timezone"]:
            return known_zone(options["timezone"])
        if first := Plant.objects.order_by("pk").values_list("timezone", flat=True).first():
            return str(first)
        zone = self.answer("Time zone of the plant", local_zone(), known_zone)
        if zone is None and (options["plant"] or any("@" not in one for one in options["storeroom"])):
            raise NotUnderstood("Say on which clock the plant lives: --timezone, such as Europe/Vienna.")
        return zone or ""

    def storerooms(self, options: dict[str, Any]) -> tuple[list[GivenStoreroom], dict[str, Hours]]:
        given = [storeroom_of(one) for one in options["storeroom"]]
        hours = hours_of(options["hours"], [one.code for one in given])
        if not self.asks or given or Storeroom.objects.exists():
            return given, hours
        found: GivenStoreroom | None = self.required(
            "Storeroom, as CODE=NAME, with @ZONE where it is not that of the plant",
            "MAIN=Main storeroom",
            storeroom_of,
        )
        while found is not None:
            given.append(found)
            question = f"Opening hours of {found.code}"
            hours[found.code] = self.required(question, "Mon-Fri 06:00-22:00", opening_hours)
            found = self.answer("Another storeroom, as CODE=NAME (empty: no other)", "", storeroom_of)
        return given, hours

    def plant(self, given: str | None) -> CodeAndName | None:
        if given is not None:
            return code_and_name(given)
        if Plant.objects.exists():
            return None
        return self.answer("Plant, as CODE=NAME (empty: it comes with an import)", "", code_and_name)

    def make(self, wanted: "WantedPlant") -> None:
        if wanted.admin:
            self.tell_made(
                make_administrator(wanted.admin, wanted.password), "administrator", wanted.password
            )
        for one in wanted.storerooms:
            zone = one.zone or wanted.zone
            if make_storeroom(one.code, one.name, zone, wanted.hours.get(one.code, ())):
                self.stdout.write(f"Storeroom {one.code} ({one.name}) was made, on the clock of {zone}.")
            if one.code not in wanted.hours:
                self.stdout.write(
                    f"No opening hours of {one.code} were given: when its parts can be had stays unknown."
                )
        if wanted.plant is not None:
            room = Storeroom.objects.order_by("pk").values_list("code", flat=True).first() or ""
            room = wanted.storerooms[0].code if wanted.storerooms else room
            if make_plant(*wanted.plant, wanted.zone, room):
                code, name = wanted.plant
                self.stdout.write(f"Plant {code} ({name}) was made, served by {room or 'no storeroom yet'}.")
        for person in wanted.people:
            user = make_person(person)
            if user is None:
                self.stdout.write(f"There is a user {person.name} already, who stays as they are.")
            else:
                self.tell_made(user, person.role)

    def tell_made(self, user: User, role: str, password: str = "") -> None:
        self.stdout.write(f"User {user.get_username()} was made: {role}.")
        if not password:
            self.stdout.write(f"  The first password is set, within a day, at {link_to_set_password(user)}")

    def required(self, question: str, default: str, understand: Callable[[str], T]) -> T:
        while (found := self.answer(question, default, understand)) is None:
            pass
        return found

    def answer(self, question: str, default: str, understand: Callable[[str], T]) -> T | None:
        """What is answered, understood; asked again where it cannot be. None where nothing is asked or said."""
        while self.asks:
            text = input(f"{question} [{default}]: " if default else f"{question}: ").strip() or default
            if not text:
                return None
            try:
                return understand(text)
            except NotUnderstood as error:
                self.stderr.write(str(error))
        return None


def local_zone() -> str:
    """The zone of this computer, as a proposal."""
    _, found, name = str(LOCAL_TIME.resolve()).partition("zoneinfo/")
    return name if found else "UTC"


def hours_of(given: list[str], codes: list[str]) -> dict[str, Hours]:
    """By storeroom; what names none is for all."""
    found: dict[str, Hours] = {}
    for text in given:
        code, is_named, hours = text.partition(": ")
        for one in [code.strip()] if is_named else codes:
            if one not in codes:
                raise NotUnderstood(f"--hours names {one!r}, which no --storeroom does.")
            found[one] = opening_hours(hours if is_named else text)
    return found
