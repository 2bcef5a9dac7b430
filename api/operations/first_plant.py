"""The records that a plant begins with: an administrator, the plant, its storerooms with their hours, and people with roles.

Each is made once: what stands is left as it is.
"""

import re
import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import time
from zoneinfo import ZoneInfo

from django.contrib.auth.models import Group, User
from django.core.exceptions import ValidationError
from django.db import models

from api.edge.change_log import log_creation
from api.edge.scope import limit_to
from api.models import Role
from drives.models import Plant
from inventory.models import OpeningHours, Storeroom

WEEKDAYS = (
    *("mon mo", "tue tu die di", "wed we mit mi", "thu th don do"),
    *("fri fr fre", "sat sa sam sonna", "sun su son so"),
)
"""How their English and German names begin, Monday first."""
DAY_OF = {begin: day for day, begins in enumerate(WEEKDAYS) for begin in begins.split()}
DAYS = re.compile(r"(?P<first>[a-z]{2,})\.?(\s*[-–]\s*(?P<last>[a-z]{2,})\.?)?")
SPAN = re.compile(
    r"(?P<from_hour>\d{1,2})[:.](?P<from_minute>\d{2})\s*-\s*(?P<to_hour>\d{1,2})[:.](?P<to_minute>\d{2})"
)
ALWAYS = ("24/7", "always")
MIDNIGHT = time(0, 0)


class NotUnderstood(ValueError):  # noqa: N818 - reads as what happened
    """What was given cannot be used; the text says what to give."""


@dataclass(frozen=True)
class Opening:
    weekday: int
    opens: time
    closes: time
    """00:00 is the end of the day."""


@dataclass(frozen=True)
class Person:
    name: str
    role: str
    plants: tuple[str, ...] = ()
    """Codes of the plants that this person sees; empty: all."""


@dataclass(frozen=True)
class GivenStoreroom:
    code: str
    name: str
    zone: str = ""
    """Empty: that of the plant."""


def opening_hours(text: str) -> tuple[Opening, ...]:
    """`Mon-Fri 06:00-22:00, Sat 06:00-14:00`, or `24/7`; a shift past midnight is parted into two days."""
    if text.strip().lower() in ALWAYS:
        return tuple(Opening(day, MIDNIGHT, MIDNIGHT) for day in range(7))
    found = [one for part in text.split(",") for one in _openings_of(part.strip())]
    return tuple(sorted(found, key=lambda one: (one.weekday, one.opens)))


def _openings_of(part: str) -> Iterator[Opening]:
    days, _, span = part.lower().partition(" ")
    whole = DAYS.fullmatch(days)
    hours = SPAN.fullmatch(span.strip())
    if whole is None or hours is None:
        raise NotUnderstood(f"{part!r} is no opening time: write such as Mon-Fri 06:00-22:00, or 24/7.")
    first = _weekday(whole["first"], part)
    last = _weekday(whole["last"], part) if whole["last"] else first
    opens = _clock(hours["from_hour"], hours["from_minute"], part)
    closes = _clock(hours["to_hour"], hours["to_minute"], part)
    for day in range(first, last + 1 + (7 if last < first else 0)):
        if closes == MIDNIGHT or closes > opens:
            yield Opening(day % 7, opens, closes)
        else:
            yield Opening(day % 7, opens, MIDNIGHT)
            yield Opening((day + 1) % 7, MIDNIGHT, closes)


def _weekday(word: str, part: str) -> int:
    found = DAY_OF.get(word[:5], DAY_OF.get(word[:3]))
    if found is None:
        raise NotUnderstood(
            f"{part!r}: weekdays are Mon, Tue, Wed, Thu, Fri, Sat, Sun, or Mo, Di, Mi, Do, Fr, Sa, So."
        )
    return found


def _clock(hour: str, minute: str, part: str) -> time:
    if (int(hour), int(minute)) == (24, 0):
        return MIDNIGHT
    try:
        return time(int(hour), int(minute))
    except ValueError as error:
        raise NotUnderstood(f"{part!r}: hours go from 00:00 to 24:00.") from error


def code_and_name(text: str) -> tuple[str, str]:
    """`OM=Ommergast`; without a name the code stands for it."""
    code, _, name = (part.strip() for part in text.partition("="))
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,20}", code):
        raise NotUnderstood(f"{text!r}: a code has up to 20 letters, digits, - and _. Write CODE=NAME.")
    return code, name or code


def known_zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError) as error:
        raise NotUnderstood(f"{text!r} is no time zone: write such as Europe/Vienna.") from error
    return text


def storeroom_of(text: str) -> GivenStoreroom:
    """`MAIN=Main storeroom`, or `QUAY=Quay storeroom@Europe/Helsinki` for one that lives on another clock than the plant."""
    named, is_elsewhere, zone = (part.strip() for part in text.partition("@"))
    return GivenStoreroom(*code_and_name(named), known_zone(zone) if is_elsewhere else "")


def person_of(text: str) -> Person:
    """`anna:manager`, or `ben:storeroom:OM` for somebody who sees one plant."""
    name, _, rest = (part.strip() for part in text.partition(":"))
    role, _, plants = (part.strip() for part in rest.partition(":"))
    if not name or role not in Role.values:
        roles = ", ".join(Role.values)
        raise NotUnderstood(f"{text!r}: write NAME:ROLE, such as anna:manager. Roles are {roles}.")
    return Person(name, role, tuple(code.strip() for code in plants.split("+") if code.strip()))


def has_administrator() -> bool:
    return User.objects.filter(is_superuser=True, is_active=True).exists()


def make_administrator(name: str, password: str = "") -> User:
    """Without a password a link sets the first one."""
    user = User(username=name, is_staff=True, is_superuser=True)
    user.set_password(password or secrets.token_urlsafe(32))
    _saved(user)
    return user


def make_storeroom(code: str, name: str, zone: str, hours: Sequence[Opening]) -> bool:
    """Whether it was made; the hours are written where the storeroom has none."""
    room = Storeroom.objects.filter(code=code).first()
    is_new = room is None
    if room is None:
        room = Storeroom(code=code, name=name, timezone=zone)
        _saved(room)
    if not room.hours.exists():
        for one in hours:
            _saved(OpeningHours(storeroom=room, **vars(one)))
    return is_new


def make_plant(code: str, name: str, zone: str, storeroom: str) -> bool:
    """Whether it was made; served by that storeroom where one is named."""
    if Plant.objects.filter(code=code).exists():
        return False
    room = Storeroom.objects.get(code=storeroom) if storeroom else None
    _saved(Plant(code=code, name=name, timezone=zone, storeroom=room))
    return True


def make_person(person: Person) -> User | None:
    """The user with the role, without a password yet; None where there is one of that name."""
    if User.objects.filter(username=person.name).exists():
        return None
    plants = list(Plant.objects.filter(code__in=person.plants))
    if missing := set(person.plants) - {plant.code for plant in plants}:
        raise NotUnderstood(f"{person.name}: there is no plant {sorted(missing)[0]!r}.")
    user = User(username=person.name)
    # Nobody knows it: a link sets the first one.
    user.set_password(secrets.token_urlsafe(32))
    _saved(user)
    user.groups.add(Group.objects.get_or_create(name=person.role)[0])
    if plants:
        limit_to({"user": user}, plants, [])
    return user


def _saved(record: models.Model) -> None:
    """Checked as a form would check it, written and logged."""
    try:
        record.full_clean()
    except ValidationError as error:
        texts = "; ".join(f"{field}: {' '.join(found)}" for field, found in error.message_dict.items())
        raise NotUnderstood(texts) from error
    record.save()
    log_creation(record)
