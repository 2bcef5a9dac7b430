"""What was taken while the storeroom was closed: its shelf is to be counted, and what nobody booked is to be issued."""

from collections.abc import Mapping
from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.edge.scope import visible_to_caller
from api.screens.today.lines import (
    Line,
    Section,
    act_address,
    item_link,
    list_address,
    moment_of,
    section_of,
    words,
)
from drives.models import Installation
from inventory.models import StockEntry, Storeroom
from inventory.stores.opening_hours import WeeklyHours
from inventory.stores.out_of_hours import LOOKED_BACK, not_seen_since
from inventory.stores.recorded_hours import recorded_hours


def out_of_hours() -> Section:
    """What is not in the books stands first."""
    now = timezone.now()
    hours = recorded_hours(visible_to_caller(Storeroom.objects.all()))
    booked = not_seen_since(visible_to_caller(StockEntry.objects.with_places()), hours, now)
    return section_of(
        gettext_lazy("Out of hours: to check"),
        [*_fitted_unbooked(hours, now), *booked],
        _line,
        list_address("movements", occurred_at__gte=str(timezone.localdate(now - LOOKED_BACK))),
    )


def _fitted_unbooked(hours: Mapping[int, WeeklyHours], now: datetime) -> list[Installation]:
    """By the hours of the storeroom that serves the plant."""
    place = "position__drive__equipment__area__plant"
    units = visible_to_caller(Installation.objects.without_issue(now - LOOKED_BACK))
    rooms = [room for room, known in hours.items() if known.periods]
    fitted = units.filter(installed_at__lte=now, **{f"{place}__storeroom__in": rooms})
    return [
        unit
        for unit in fitted.select_related("item", f"{place}__storeroom").order_by("-installed_at", "-pk")
        if hours[unit.position.drive.equipment.area.plant.storeroom_id or 0].is_closed(unit.installed_at)
    ]


def _line(found: StockEntry | Installation) -> Line:
    return _booked(found) if isinstance(found, StockEntry) else _unbooked(found)


def _booked(entry: StockEntry) -> Line:
    pieces = f"{entry.get_kind_display()} {entry.change:+d}"
    return Line(
        *item_link(entry.item),
        words(
            moment_of(entry.occurred_at),
            pieces,
            entry.storeroom.code,
            entry.work_order,
            entry.recorded_by_name,
        ),
        _("Count"),
        act_address(
            "count",
            item=entry.item.stock_number,
            storeroom=entry.storeroom.code,
            condition=entry.condition,
        ),
    )


def _unbooked(unit: Installation) -> Line:
    assert unit.item is not None
    room = unit.position.drive.equipment.area.plant.storeroom
    return Line(
        *item_link(unit.item),
        words(moment_of(unit.installed_at), unit.position.tag, _("fitted, but no issue is booked")),
        _("Issue"),
        act_address(
            "issue",
            item=unit.item.stock_number,
            position=unit.position.tag,
            storeroom=room and room.code,
            quantity=1,
        ),
    )
