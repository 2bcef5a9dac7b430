"""Options of a page of substitutes, read from its address: when, at which counter, in which order."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from inventory.models import Storeroom

Order = Literal["grade", "ready"]
Faults = tuple[tuple[str, str], ...]
"""Each a field with what is wrong with it."""
EARLIEST_YEAR, LATEST_YEAR = 2000, 2099


@dataclass(frozen=True)
class PageOptions:
    at: datetime
    at_text: str = ""
    counter: Storeroom | None = None
    order: Order = "grade"
    shelf_only: bool = False
    show_all: bool = False
    part: str = ""
    faults: Faults = ()

    @property
    def is_now(self) -> bool:
        return not self.at_text

    @property
    def is_by_time(self) -> bool:
        return self.order == "ready"

    @property
    def is_changed(self) -> bool:
        """The time or the counter is not the usual one, or is wrong."""
        return bool(self.faults or self.at_text or self.counter)

    @property
    def wrong_fields(self) -> frozenset[str]:
        return frozenset(field for field, _sentence in self.faults)

    def address(self, **changes: object) -> str:
        """The same options with some changed, as the end of an address."""
        options = replace(self, **changes)  # type: ignore[arg-type]
        fields = {
            "order": "ready" if options.order == "ready" else "",
            "shelf": "1" if options.shelf_only else "",
            "at": options.at_text,
            "counter": options.counter.code if options.counter else "",
            "all": "1" if options.show_all else "",
            "part": options.part,
        }
        return "?" + urlencode({name: value for name, value in fields.items() if value})

    @property
    def other_shelf(self) -> str:
        return self.address(shelf_only=not self.shelf_only)


def page_options_of(query: QueryDict, storerooms: list[Storeroom]) -> PageOptions:
    """In the current time zone; what cannot be read is a fault and stays at its default."""
    now = timezone.now().replace(second=0, microsecond=0)
    at, at_fault = _moment(query.get("at", "").strip())
    counter, counter_fault = _counter(query.get("counter", "").strip(), storerooms)
    return PageOptions(
        at=at or now,
        at_text="" if at is None else timezone.localtime(at).strftime("%Y-%m-%dT%H:%M"),
        counter=counter,
        order="ready" if query.get("order") == "ready" else "grade",
        shelf_only=query.get("shelf") == "1",
        show_all=query.get("all") == "1",
        part=query.get("part", "").strip(),
        faults=(*at_fault, *counter_fault),
    )


def _moment(text: str) -> tuple[datetime | None, Faults]:
    if not text:
        return None, ()
    try:
        moment = parse_datetime(text)
    except ValueError:
        moment = None
    if moment is None or not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
        return None, (("at", _("Enter date and time as 2026-11-25 03:10, or leave it empty for now.")),)
    return (moment if timezone.is_aware(moment) else timezone.make_aware(moment)), ()


def _counter(code: str, storerooms: list[Storeroom]) -> tuple[Storeroom | None, Faults]:
    if not code:
        return None, ()
    known = next((room for room in storerooms if room.code == code), None)
    if known is None:
        return None, (("counter", _("There is no storeroom with this code: choose one from the list.")),)
    return known, ()
