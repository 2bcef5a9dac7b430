"""Taper and QD bushes by size, their bores by list, and which size may replace which."""

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import Literal, cast

from inventory.facts import Fact, fact
from inventory.number_checks import positive
from inventory.standards.sizes import same_nominal
from inventory.standards.table_rows import CONFIRMED, source_titles, table_rows, value_of_row

BushOutcome = Literal["same", "conditional", "no"]
NEAREST_SIZES = 3
SAME_SIZE_SOURCE = "Taper bush dimension sheets: the size alone identifies the cone"


class UnknownBush(ValueError):  # noqa: N818 - reads as the refusal it is
    """No bush of this size is in the table."""


@dataclass(frozen=True, slots=True)
class BoreRange:
    """Bores of one size in one published list: they belong to the list, not to the size. Lengths in mm.

    `max_shallow_key_mm` is None where the list has no bore that needs a shallow key.
    """

    list_name: str
    unit_system: Literal["metric", "inch"]
    min_mm: float
    max_standard_key_mm: float
    max_shallow_key_mm: float | None
    source: str
    confidence: str
    note: str

    @property
    def is_confirmed(self) -> bool:
        return self.confidence in CONFIRMED

    @property
    def max_mm(self) -> float:
        return self.max_shallow_key_mm or self.max_standard_key_mm

    def holds_with_standard_key(self, bore_mm: float) -> bool:
        is_on_a_limit = same_nominal(bore_mm, self.min_mm) or same_nominal(bore_mm, self.max_standard_key_mm)
        return is_on_a_limit or self.min_mm <= bore_mm <= self.max_standard_key_mm


@dataclass(frozen=True, slots=True)
class ShallowKeySeat:
    """A bore that was seen with a shallow keyway; more than one hub depth means that the sheets disagree."""

    size: str
    bore_mm: float
    key_width_mm: float
    hub_depths_mm: tuple[float, ...]
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Bush:
    """One bush size; lengths in mm, torques in Nm. A figure that no source shows is None.

    `screw_torque_nm` is that of metric sheets, `screw_torque_us_nm` that of sheets with inch threads.
    """

    series: Literal["taper", "qd"]
    size: str
    length_mm: float | None
    large_end_diameter_mm: float | None
    bolt_circle_mm: float | None
    min_hub_diameter_mm: float | None
    screw_count: int | None
    screw_size: str
    screw_torque_nm: float | None
    screw_torque_us_nm: float | None
    torque_capacity_nm: float | None
    is_reverse_mountable: bool | None
    bore_ranges: tuple[BoreRange, ...]
    unseen_fields: frozenset[str]
    source: str
    confidence: str
    note: str

    @property
    def is_confirmed(self) -> bool:
        """Whether the row was read in a source; single fields may still be unseen."""
        return self.confidence in CONFIRMED


@dataclass(frozen=True, slots=True)
class BushSubstitution:
    """Whether a bush of one size may go into a hub made for another."""

    outcome: BushOutcome
    reason: Fact
    source: str
    confidence: str


def _bush(row: dict[str, str]) -> Bush:
    lists = [one for one in table_rows("bush_bores") if one["size"] == row["size"]]
    return value_of_row(
        Bush,
        row,
        is_reverse_mountable={"yes": True, "no": False}.get(row["reverse_mountable"]),
        bore_ranges=tuple(value_of_row(BoreRange, one, min_mm=float(one["min_bore_mm"])) for one in lists),
    )


@cache
def bushes() -> tuple[Bush, ...]:
    """Every size of the table, read once; each row names its source."""
    return tuple(_bush(row) for row in table_rows("bushes"))


def find_bush(size: str) -> Bush:
    """The bush of a taper size such as ``1610`` or QD letters such as ``SDS``; case and outer spaces do not matter."""
    wanted = size.strip().upper()
    found = next((bush for bush in bushes() if bush.size == wanted), None)
    if found is not None:
        return found
    nearest = get_close_matches(wanted, [bush.size for bush in bushes()], n=NEAREST_SIZES, cutoff=0.5)
    hint = f"; nearest sizes: {', '.join(nearest)}" if nearest else ""
    raise UnknownBush(f"`size` must be a known bush size, got {size!r}{hint}")


def bush_substitution(from_size: str, to_size: str) -> BushSubstitution:
    """Whether a bush of one size may replace another: as the table has it for a listed pair, ``no`` for every other.

    Source: dimensions of the public sheets; the verdict on a pair is engineering judgement.
    """
    fitted, hub = find_bush(from_size), find_bush(to_size)
    if fitted == hub:
        return BushSubstitution("same", _reason("bush_of_same_size", fitted, hub), SAME_SIZE_SOURCE, "found")
    for row in table_rows("bush_interchange"):
        if (row["from_size"], row["to_size"]) == (fitted.size, hub.size):
            return BushSubstitution(
                outcome=cast(BushOutcome, row["outcome"]),
                reason=_reason(row["code"], fitted, hub),
                source=source_titles(row["source"]),
                confidence=row["confidence"],
            )
    code = "bush_cones_differ" if fitted.series == hub.series else "taper_and_qd_hubs_differ"
    return BushSubstitution("no", _reason(code, fitted, hub), SAME_SIZE_SOURCE, "found")


def _reason(code: str, fitted: Bush, hub: Bush) -> Fact:
    """The large ends and the difference in length, `None` where no source shows them."""
    known = fitted.length_mm is not None and hub.length_mm is not None
    return fact(
        code,
        fitted_bush_size=fitted.size,
        bush_size=hub.size,
        large_end_mm=fitted.large_end_diameter_mm,
        hub_large_end_mm=hub.large_end_diameter_mm,
        difference_mm=round(abs((fitted.length_mm or 0.0) - (hub.length_mm or 0.0)), 3) if known else None,
    )


@cache
def shallow_key_seats() -> tuple[ShallowKeySeat, ...]:
    """Bores that a published list marks as having a shallow keyway.

    Source: printed transmission catalogue, taper-bush pages 111-112; each row names its own.
    """
    seats = []
    for row in table_rows("shallow_keyseats"):
        depths = tuple(float(row[name]) for name in ("hub_depth_mm", "hub_depth_other_mm") if row[name])
        seats.append(value_of_row(ShallowKeySeat, row, hub_depths_mm=depths))
    return tuple(seats)


def needs_shallow_key(size: str, bore_mm: float) -> bool | None:
    """True where a list marks the bore as shallow, False where a confirmed list has it with a standard key, else None."""
    bush, bore = find_bush(size), positive("bore_mm", bore_mm)
    seats = (seat for seat in shallow_key_seats() if seat.size == bush.size)
    if any(same_nominal(bore, seat.bore_mm) for seat in seats):
        return True
    confirmed = (bores for bores in bush.bore_ranges if bores.is_confirmed)
    return False if any(bores.holds_with_standard_key(bore) for bores in confirmed) else None
