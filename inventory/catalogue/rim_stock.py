"""What is free on the shelves with the teeth of a rim: of each candidate no more than so much, however large the catalogue."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from inventory.catalogue.stock_on_hand import available_sql
from inventory.identification.rims import Rim
from inventory.interchange.vocabulary import BoreType
from inventory.models import PartKind
from inventory.plumbing.joint_statement import Parameters, Question, Row
from inventory.standards.rim_tolerances import SAME_RIM_MM

MOST_READ, MOST_SPECIFICATIONS, MOST_SHELVES = 2_000, 200, 400
"""Of each rim so many specifications of its pitch and count are read, so many of them that fit are looked for, on so many free shelves."""

SAME_BORE_MM = 0.15
"""A bore that a caliper reads this near is of the same nominal size. Judgement: its reading is within 0.1 mm, the bore within H8."""


class BoreMatch(StrEnum):
    """How the bore of an item compares with the one that was measured."""

    SAME = "same"
    CAN_BE_BORED = "can_be_bored"
    TAKES_BUSH = "takes_bush"
    OTHER = "other"
    NOT_KNOWN = "not_known"


BORE_ORDER = tuple(BoreMatch)
BUSHED = (BoreType.TAPERED, BoreType.QD)


@dataclass(frozen=True)
class WantedRim:
    """A candidate by its place among the candidates of the answer."""

    place: int
    rim: Rim
    teeth: int


@dataclass(frozen=True)
class RimShelf:
    storeroom: str
    bin: str | None
    condition: str
    available: int


@dataclass(frozen=True)
class StockedRim:
    """An item with free pieces whose teeth are those of a candidate."""

    candidate: int
    stock_number: str
    description: str
    lifecycle: str
    chain: str | None
    teeth: int
    strands: int | None
    bore_type: str | None
    bore_mm: float | None
    keyway_width_mm: float | None
    hub_diameter_mm: float | None
    bore_match: BoreMatch
    available: int
    shelves: tuple[RimShelf, ...]


@dataclass(frozen=True)
class StockedRims:
    """The best of what was looked at; `counted` items were found, and `has_more` where not all shelves were looked at."""

    items: tuple[StockedRim, ...]
    counted: int
    has_more: bool


COLUMNS = (
    *("i.id", "i.stock_number", "i.description", "i.lifecycle"),
    *("s.chain_designation", "s.teeth", "s.strands", "s.bore_type", "s.bore_mm", "s.max_bore_mm"),
    *("s.keyway_width_mm", "s.hub_diameter_mm"),
    *("r.code", "b.code", "k.condition", "k.on_hand - k.reserved"),
)


def rim_stock_questions(wanted: WantedRim, put: Parameters) -> tuple[Question, Question]:
    """Free shelves of items on this rim with this count, and how many specifications were read and fit."""
    read, on_rim = _read(wanted, put), _on_rim(wanted, put)
    fitting = f"SELECT * FROM ({read}) s WHERE {on_rim} LIMIT {MOST_SPECIFICATIONS}"
    named = ", ".join(f"{column} AS c{place}" for place, column in enumerate(COLUMNS))
    shelves = (
        f"FROM (SELECT {named} FROM ({fitting}) s JOIN inventory_item i ON i.specification_id = s.id "
        f"JOIN inventory_stocklevel k ON k.item_id = i.id AND {available_sql(put)} "
        "JOIN inventory_storeroom r ON r.id = k.storeroom_id LEFT JOIN inventory_bin b ON b.id = k.bin_id "
        f"LIMIT {MOST_SHELVES}) found"
    )
    counts = tuple(f"(SELECT COUNT(*) FROM ({part}) counted)" for part in (read, fitting))
    return (
        Question([f"found.c{place}" for place in range(len(COLUMNS))], shelves),
        Question(counts, "FROM (SELECT 1 AS one) once"),
    )


def _read(wanted: WantedRim, put: Parameters) -> str:
    """By equality alone, so that one index leads to the rows: what has a designation has the pitch of its standard."""
    pitches = {chain.pitch_mm for chain in wanted.rim.chains}
    return (
        f"SELECT s.* FROM inventory_specification s WHERE s.kind = '{PartKind.SPROCKET.value}' "
        f"AND s.pitch_mm IN {put.put_all(sorted(pitches))} AND s.teeth = {put.put(wanted.teeth)} LIMIT {MOST_READ}"
    )


def _on_rim(wanted: WantedRim, put: Parameters) -> str:
    rim, chain = wanted.rim, wanted.rim.chain
    measures = " AND ".join(
        f"s.{name} BETWEEN {put.put(size - SAME_RIM_MM)} AND {put.put(size + SAME_RIM_MM)}"
        for name, size in (
            ("roller_diameter_mm", chain.roller_diameter_mm),
            ("inner_width_mm", chain.inner_width_mm),
        )
    )
    rows = f"s.strands = {put.put(rim.strands)}"
    conditions = [
        f"(s.chain_designation IN {put.put_all(rim.designations)} OR (s.chain_designation = '' AND {measures}))",
        f"({rows} OR s.strands IS NULL)" if rim.strands == 1 else rows,
    ]
    if chain.is_double_pitch and not chain.has_large_rollers:
        cut = f"s.single_cut = {put.put(rim.single_cut)}"
        conditions.append(f"({cut} OR s.single_cut IS NULL)" if rim.single_cut else cut)
    return " AND ".join(conditions)


def stocked_rims(
    found: Iterable[tuple[WantedRim, list[Row], list[Row]]], *, bore_mm: float | None, most: int
) -> StockedRims:
    """Of the rows of `rim_stock_questions`: the likelier candidate first, then the bore that fits, then the most free pieces."""
    items: list[StockedRim] = []
    has_more = False
    for wanted, rows, ((read, fitting),) in found:
        has_more |= read >= MOST_READ or fitting >= MOST_SPECIFICATIONS or len(rows) >= MOST_SHELVES
        items += _items(wanted, rows, bore_mm)
    items.sort(
        key=lambda one: (one.candidate, BORE_ORDER.index(one.bore_match), -one.available, one.stock_number)
    )
    return StockedRims(tuple(items[:most]), len(items), has_more)


def _items(wanted: WantedRim, rows: list[Row], bore_mm: float | None) -> list[StockedRim]:
    of_item: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        of_item[row[0]].append(row)
    return [_item(wanted, lying, bore_mm) for lying in of_item.values()]


def _item(wanted: WantedRim, lying: list[Row], bore_mm: float | None) -> StockedRim:
    _, number, description, lifecycle, chain, teeth, strands, bore_type, bore, most_bore, keyway, hub, *_ = (
        lying[0]
    )
    shelves = tuple(
        RimShelf(storeroom, bin_code, condition, int(free))
        for *_, storeroom, bin_code, condition, free in lying
    )
    return StockedRim(
        candidate=wanted.place,
        stock_number=number,
        description=description,
        lifecycle=lifecycle,
        chain=chain or None,
        teeth=teeth,
        strands=strands,
        bore_type=bore_type or None,
        bore_mm=_number(bore),
        keyway_width_mm=_number(keyway),
        hub_diameter_mm=_number(hub),
        bore_match=_bore_match(bore_mm, bore_type, _number(bore), _number(most_bore)),
        available=sum(one.available for one in shelves),
        shelves=tuple(sorted(shelves, key=lambda one: (-one.available, one.storeroom, one.condition))),
    )


def _number(value: float | str | None) -> float | None:
    return None if value is None else float(value)


def _bore_match(
    wanted_mm: float | None, bore_type: str, bore_mm: float | None, most_mm: float | None
) -> BoreMatch:
    if bore_type in BUSHED:
        return BoreMatch.TAKES_BUSH
    if wanted_mm is None or bore_mm is None:
        return BoreMatch.NOT_KNOWN
    if abs(bore_mm - wanted_mm) <= SAME_BORE_MM:
        return BoreMatch.SAME
    can_grow = bore_mm < wanted_mm and (most_mm is None or wanted_mm <= most_mm)
    return BoreMatch.CAN_BE_BORED if can_grow else BoreMatch.OTHER
