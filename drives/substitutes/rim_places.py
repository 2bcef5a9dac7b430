"""Where the chain of a rim runs: positions that use the teeth, and how many drives of the plant run each chain."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from inventory.catalogue.rim_stock import WantedRim
from inventory.models.access_scope import current_scope
from inventory.plumbing.joint_statement import Parameters, Question, Row

MOST_DRIVES_READ, MOST_COUNTED_POSITIONS = 500, 100
"""Of each rim so many drives are looked at, and so many positions counted."""

MOST_COUNTED_DRIVES = 200
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


def rim_positions_questions(wanted: WantedRim, put: Parameters, *, today: date) -> tuple[Question, Question]:
    """Visible positions in use with these teeth on a drive with one of the rim's chains, and how many such drives were read."""
    on = put.put(today)
    # `+ 0`, so that positions are looked up drive by drive: all of one count are too many to read.
    drives = (
        f"SELECT d.id, d.tag, d.name, d.chain_designation FROM drives_drive d{_in_scope(put)} "
        f"WHERE d.chain_designation IN {put.put_all(wanted.rim.designations)} AND d.strands = {put.put(wanted.rim.strands)} "
        f"AND {_in_use('d', on)} LIMIT {MOST_DRIVES_READ}"
    )
    positions = (
        "FROM (SELECT p.tag AS tag, d.tag AS drive, d.name AS name, p.role AS role, d.chain_designation AS chain "
        f"FROM ({drives}) d JOIN drives_position p ON p.drive_id = d.id "
        f"WHERE p.teeth + 0 = {put.put(wanted.teeth)} AND {_in_use('p', on)} LIMIT {MOST_COUNTED_POSITIONS}) found"
    )
    return (
        Question([f"found.{name}" for name in ("tag", "drive", "name", "role", "chain")], positions),
        Question(("COUNT(*)",), f"FROM ({drives}) counted"),
    )


def _in_use(table: str, on: str) -> str:
    return f"({table}.in_use_until IS NULL OR {table}.in_use_until >= {on})"


def rim_positions(found: Iterable[tuple[WantedRim, list[Row], list[Row]]], *, most: int) -> RimPositions:
    """Of the rows of `rim_positions_questions`: the likelier candidate first, then by tag."""
    positions: list[RimPosition] = []
    has_more = False
    for wanted, rows, ((drives,),) in found:
        has_more |= drives >= MOST_DRIVES_READ or len(rows) >= MOST_COUNTED_POSITIONS
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
