"""Where the chain of a rim runs: positions that use the teeth, and how many drives of the plant run each chain."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from inventory.catalogue.rim_stock import WantedRim
from inventory.models.access_scope import current_scope
from inventory.plumbing.joint_statement import Parameters, Question, Row

MOST_COUNTED_POSITIONS, MOST_COUNTED_DRIVES = 100, 200
"""A chain with so many drives is as well known as one with more."""

PLANT_OF_DRIVE = " JOIN drives_equipment q ON q.id = d.equipment_id JOIN drives_area a ON a.id = q.area_id AND a.plant_id IN "


@dataclass(frozen=True)
class RimPosition:
    """A position in use with the teeth of a candidate, on a drive with one of its chains."""

    candidate: int
    tag: str
    drive: str
    drive_name: str
    role: str
    chain: str


@dataclass(frozen=True)
class RimPositions:
    positions: tuple[RimPosition, ...]
    counted: int
    has_more: bool


def rim_positions_question(wanted: WantedRim, put: Parameters, *, today: date) -> Question:
    """Visible positions in use with these teeth on a drive with one of the rim's chains, through the index of drives by chain."""
    on = put.put(today)
    chains = f"d.chain_designation IN {put.put_all(wanted.rim.designations)} AND d.strands = {put.put(wanted.rim.strands)}"
    used = " AND ".join(
        f"({table}.in_use_until IS NULL OR {table}.in_use_until >= {on})" for table in ("p", "d")
    )
    source = (
        "FROM (SELECT p.tag AS tag, d.tag AS drive, d.name AS name, p.role AS role, d.chain_designation AS chain "
        "FROM drives_drive d JOIN drives_position p ON p.drive_id = d.id "
        f"{_in_scope(put)} WHERE {chains} AND p.teeth = {put.put(wanted.teeth)} AND {used} LIMIT {MOST_COUNTED_POSITIONS}) found"
    )
    return Question([f"found.{name}" for name in ("tag", "drive", "name", "role", "chain")], source)


def rim_positions(found: Iterable[tuple[WantedRim, list[Row]]], *, most: int) -> RimPositions:
    """Of the rows of `rim_positions_question`: the likelier candidate first, then by tag."""
    positions: list[RimPosition] = []
    has_more = False
    for wanted, rows in found:
        has_more |= len(rows) >= MOST_COUNTED_POSITIONS
        positions += [RimPosition(wanted.place, *row) for row in rows]
    positions.sort(key=lambda one: (one.candidate, one.tag))
    return RimPositions(tuple(positions[:most]), len(positions), has_more)


def chain_drives_question(designation: str, put: Parameters) -> Question:
    """How many visible drives run this chain, by strands."""
    source = (
        "FROM (SELECT d.strands AS strands FROM drives_drive d "
        f"{_in_scope(put)} WHERE d.chain_designation = {put.put(designation)} LIMIT {MOST_COUNTED_DRIVES}) found "
        "WHERE found.strands IS NOT NULL GROUP BY found.strands"
    )
    return Question(("found.strands", "COUNT(*)"), source)


def chain_drives(found: Mapping[str, list[Row]]) -> dict[tuple[str, int], int]:
    """Of the rows of `chain_drives_question` by designation: the counts by designation and strands."""
    return {(name, int(strands)): int(count) for name, rows in found.items() for strands, count in rows}


def _in_scope(put: Parameters) -> str:
    plants = current_scope().plants
    return "" if plants is None else f"{PLANT_OF_DRIVE}{put.put_all(sorted(plants))}"
