"""By whose clock a row is: that of its storeroom or plant, or the one that all of them share."""

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from drives.models import Equipment, Plant, Position
from inventory.models import MachineShop, Storeroom

Codes = Mapping[str, str]


class Zones:
    """Looked up once for a file, and only for the columns that it has."""

    def __init__(self, stated: str = "") -> None:
        self.stated = stated

    @cached_property
    def all(self) -> list[str]:
        rooms = set(Storeroom.objects.order_by().values_list("timezone", flat=True))
        return sorted(rooms | set(Plant.objects.order_by().values_list("timezone", flat=True)))

    @cached_property
    def by_column(self) -> dict[str, Codes]:
        found: dict[str, Codes] = {}
        for name, read in READERS.items():
            found[name] = read()
        return found

    @property
    def shared(self) -> str:
        return self.stated or (self.all[0] if len(self.all) == 1 else "")

    def of(self, values: Mapping[str, str]) -> ZoneInfo | None:
        if self.shared:
            return ZoneInfo(self.shared)
        for name, codes in self.by_column.items():
            if values.get(name) in codes:
                return ZoneInfo(codes[values[name]])
        return None


def _codes(rows: Any, key: str, zone: str) -> Codes:
    return dict(rows.order_by().values_list(key, zone))


READERS: Mapping[str, Callable[[], Codes]] = {
    "storeroom": lambda: _codes(Storeroom.objects, "code", "timezone"),
    "to_storeroom": lambda: _codes(Storeroom.objects, "code", "timezone"),
    "machine_shop": lambda: _codes(MachineShop.objects, "code", "timezone"),
    "plant": lambda: _codes(Plant.objects, "code", "timezone"),
    "position": lambda: _codes(Position.objects, "tag", "drive__equipment__area__plant__timezone"),
    "equipment": lambda: _codes(Equipment.objects, "tag", "area__plant__timezone"),
}
