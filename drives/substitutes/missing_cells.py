"""Places that cannot be judged yet, and for want of which cells: what a new plant fills first."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q, QuerySet

from drives.models import Criticality, Position
from drives.substitutes.position_requirement import PositionRequirement, position_requirement
from inventory.interchange.requirement import Requirement, Shaft
from inventory.interchange.vocabulary import ShaftKind

DRIVES, POSITIONS = "drives", "positions"
RANK = {word: place for place, word in enumerate(Criticality.values)}


@dataclass(frozen=True, order=True)
class MissingCell:
    """Of a kind of file: the column that is empty."""

    kind: str
    column: str


@dataclass(frozen=True)
class UnjudgedPlace:
    tag: str
    drive: str
    name: str
    plant: str
    criticality: str
    downtime_cost_per_hour: Decimal | None
    currency: str
    lifting: bool
    fitted: str
    """Stock number of the unit that is fitted; what its item says counts for the place too."""
    missing: tuple[MissingCell, ...]
    unchecked: tuple[MissingCell, ...]
    """Empty too: without them the fit is judged, and the load is not."""


@dataclass(frozen=True)
class MissingCells:
    """The worst first; `by_cell` counts the places that each cell holds up, and those that it holds up alone."""

    places: tuple[UnjudgedPlace, ...]
    in_use: int
    by_cell: tuple[tuple[MissingCell, int, int], ...]

    @property
    def judged(self) -> int:
        return self.in_use - len(self.places)


def missing_cells(positions: QuerySet[Position], today: date) -> MissingCells:
    """Of positions that `positions_with_requirements` gave; those out of use are left out. One query."""
    gone = Q(in_use_until__lt=today) | Q(drive__in_use_until__lt=today)
    count, found = 0, []
    for position in positions.exclude(gone).iterator(chunk_size=2_000):
        count += 1
        place = position_requirement(position)
        empty = (cell for cell in blocking(place.required) if not is_recorded(position, cell))
        if cells := tuple(empty):
            found.append(_place(place, cells))
    return MissingCells(tuple(sorted(found, key=_worst_first)), count, tuple(_by_cell(found)))


def is_recorded(position: Position, cell: MissingCell) -> bool:
    """A diameter may be there while the form of the shaft is not."""
    return cell.kind == POSITIONS and getattr(position, cell.column) not in (None, "")


def blocking(required: Requirement) -> Iterator[MissingCell]:
    """What keeps even a part that is wholly recorded from a verdict here."""
    if required.chain is None:
        yield MissingCell(DRIVES, "chain")
    if required.strands is None:
        yield MissingCell(DRIVES, "strands")
    if required.teeth is None and not (required.is_idler and required.minimum_teeth is not None):
        yield MissingCell(POSITIONS, "teeth")
    if required.shaft is not None:
        yield from _of_shaft(required.shaft)
    elif required.interface is None:
        yield MissingCell(POSITIONS, "shaft_kind")
        yield MissingCell(POSITIONS, "shaft_diameter_mm")


def _of_shaft(shaft: Shaft) -> Iterator[MissingCell]:
    if shaft.kind is ShaftKind.HEX:
        if shaft.across_flats_mm is None:
            yield MissingCell(POSITIONS, "hex_across_flats_mm")
    elif shaft.kind is not ShaftKind.SPLINE and shaft.diameter_mm is None:
        yield MissingCell(POSITIONS, "shaft_diameter_mm")
    has_key = shaft.key_width_mm is not None or shaft.key_standard is not None
    if shaft.kind is ShaftKind.KEYED and not has_key:
        yield MissingCell(POSITIONS, "key_width_mm")


def _unchecked(place: PositionRequirement) -> Iterator[MissingCell]:
    if place.duty.power_kw is None:
        yield MissingCell(DRIVES, "power_kw")
    if place.duty.speed_rpm is None:
        yield MissingCell(DRIVES, "driver_speed_rpm")


def _place(place: PositionRequirement, cells: tuple[MissingCell, ...]) -> UnjudgedPlace:
    position, drive = place.position, place.position.drive
    item = place.fitted.item if place.fitted is not None else None
    return UnjudgedPlace(
        position.tag,
        drive.tag,
        position.name or drive.name,
        drive.equipment.area.plant.code,
        drive.criticality,
        drive.downtime_cost_per_hour,
        drive.currency,
        drive.lifting,
        item.stock_number if item is not None else "",
        cells,
        tuple(_unchecked(place)),
    )


def _worst_first(place: UnjudgedPlace) -> tuple[int, Decimal, int, str]:
    """By the importance of the drive, then by what its stop costs, then by how much is missing."""
    rank = RANK.get(place.criticality, len(RANK))
    return rank, -(place.downtime_cost_per_hour or Decimal(0)), -len(place.missing), place.tag


def _by_cell(places: Iterable[UnjudgedPlace]) -> Iterator[tuple[MissingCell, int, int]]:
    every, alone = Counter[MissingCell](), Counter[MissingCell]()
    for place in places:
        every.update(place.missing)
        if len(place.missing) == 1:
            alone.update(place.missing)
    for cell, count in sorted(every.items(), key=lambda one: (-one[1], one[0])):
        yield cell, count, alone[cell]
