"""What a plant without records brings in first: each step by what is missing, with the place where it is done."""

from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.models import ImportSet, ImportSetState
from drives.models import Installation, Plant, Position
from inventory.models import Item, RunState, StockEntry, StockingRun, Storeroom

NEW_FOR = timedelta(days=30)
"""How long after an import a plant is told what it still lacks."""


@dataclass(frozen=True)
class FirstStep:
    what: str | Promise
    why: str | Promise
    address: str
    is_done: bool


def first_steps() -> list[FirstStep]:
    """In this order, as later files name records of earlier ones; empty where all is done."""
    steps = [
        _file_step(
            "storerooms",
            Storeroom.objects.exists(),
            _("Bring in the storerooms with their opening hours"),
            _("Who hands out at what hour decides which part is quickest."),
        ),
        _file_step(
            "plants",
            Plant.objects.exists(),
            _("Bring in the plant with its areas and equipment"),
            _("Each plant names its time zone and the storeroom that serves it."),
        ),
        _file_step(
            "items",
            Item.objects.exists(),
            _("Bring in the items with their dimensions"),
            _("Only what is recorded in figures can be compared."),
        ),
        _file_step(
            "movements",
            StockEntry.objects.exists(),
            _("Book the stock that lies there"),
            _("From then on every issue and receipt keeps it right."),
        ),
        _file_step(
            "drives",
            Position.objects.exists(),
            _("Bring in the drives with their positions"),
            _("What a position needs decides what fits there."),
        ),
        _file_step(
            "installations",
            Installation.objects.exists(),
            _("Bring in what is fitted, and what was fitted before"),
            _("How long units lasted tells how many will be needed."),
        ),
        FirstStep(
            _("Calculate what to keep"),
            _("Every night from then on."),
            reverse("screens:decisions"),
            # The first night of an empty plant calculates nothing.
            StockingRun.objects.filter(state=RunState.DONE, total__gt=0).exists(),
        ),
    ]
    return [] if all(step.is_done for step in steps) else steps


def _file_step(kind: str, is_done: bool, what: Promise, why: Promise) -> FirstStep:
    address = f"{reverse('screens:imports')}?{urlencode({'kind': kind})}#send"
    return FirstStep(what, why, address, is_done)


def has_imported_lately() -> bool:
    """Whether files were brought in together in the last weeks: a plant that begins fills what is missing."""
    since = timezone.now() - NEW_FOR
    return ImportSet.objects.filter(state=ImportSetState.DONE, finished_at__gte=since).exists()
