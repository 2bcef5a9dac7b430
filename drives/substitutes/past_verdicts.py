"""The verdict of what has happened already: a message or a file says that a part was issued or fitted, and it is never refused.

Each is judged with what was fitted at its position before it, and equal questions are judged once.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from django.db.models.functions import Coalesce

from drives.models import Installation, Position, RecordedVerdict, SubstituteApproval
from drives.place.chain_check import judge_chain_for_place
from drives.place.duty import Duty
from drives.place.verdict import judge_for_place
from drives.substitutes.fitting import publish_awaiting
from drives.substitutes.fitting_verdict import (
    JUDGED_KINDS,
    LONGEST_REASON,
    NOT_SIMPLY_FITTED,
    FittingVerdict,
)
from drives.substitutes.position_requirement import positions_with_duty, required_with
from drives.substitutes.rules_here import RuleBook, number_of
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.models import CHAIN_KINDS, Item, MovementKind, Specification, StockEntry
from inventory.plumbing.many_rows import insert_records

AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class PastFitting:
    """`part_id` is the specification of the part; `of` are the columns that say what its verdict belongs to."""

    position_id: int
    part_id: int | None
    item: Item | None
    at: datetime
    of: dict[str, Any]


def keep_issue_verdicts(entries: Iterable[StockEntry]) -> None:
    """Of issues to a position; to be called in the transaction that booked them."""
    issues = [one for one in entries if one.kind == MovementKind.ISSUE and one.change < 0 and one.position]
    places = {
        tag: pk
        for tags in _batches({one.position for one in issues})
        for tag, pk in Position.objects.filter(tag__in=tags).values_list("tag", "pk")
    }
    _keep(
        PastFitting(
            places[one.position],
            one.item.specification_id,
            one.item,
            one.occurred_at,
            {"entry": one, "reason": one.reason[:LONGEST_REASON], "recorded_by_name": one.recorded_by_name},
        )
        for one in issues
        if one.position in places
    )


def keep_unit_verdicts(units: Iterable[Installation], by: str) -> None:
    """Of units fitted; one that runs and does not simply fit awaits the approval that its plant needs."""
    kept = _keep(
        PastFitting(
            one.position_id,
            one.specification_id,
            one.item,
            one.installed_at,
            {"installation": one, "reason": one.installed_why[:LONGEST_REASON], "recorded_by_name": by},
        )
        for one in units
    )
    for found in kept:
        unit, plant = found.installation, found.position.drive.equipment.area.plant
        assert unit is not None
        is_open = unit.removed_at is None and not unit.approved_by.strip()
        awaits = is_open and found.grade in NOT_SIMPLY_FITTED
        awaits = awaits and plant.substitute_approval != SubstituteApproval.NOT_NEEDED
        if awaits != unit.awaits_approval:
            unit.awaits_approval = awaits
            unit.save(update_fields=["awaits_approval", "updated_at"])
            if awaits:
                publish_awaiting(unit, found.grade)


def _keep(fittings: Iterable[PastFitting]) -> list[RecordedVerdict]:
    known = list(fittings)
    parts = _parts({one.part_id for one in known if one.part_id is not None})
    known = [one for one in known if one.part_id in parts]
    if not known:
        return []
    judge = _Judge({one.position_id for one in known}, parts)
    rows = [RecordedVerdict(item=one.item, **judge.columns_of(one), **one.of) for one in known]
    insert_records(RecordedVerdict, rows)
    return rows


@dataclass(frozen=True, slots=True)
class _Part:
    attributes: Sprocket
    is_chain: bool


def _parts(keys: Collection[int]) -> dict[int, _Part]:
    rows = Specification.objects.filter(kind__in=JUDGED_KINDS)
    return {
        row.pk: _Part(attributes_of(row), row.kind in CHAIN_KINDS)
        for some in _batches(keys)
        for row in rows.filter(pk__in=some)
    }


class _Judge:
    def __init__(self, positions: Collection[int], parts: dict[int, _Part]) -> None:
        self._practice, self._rules = current_practice(), RuleBook.load()
        places = positions_with_duty()
        self._places = {
            place.pk: place for some in _batches(positions) for place in places.filter(pk__in=some)
        }
        self._lenders = _units_for_good(positions)
        lent = {part for units in self._lenders.values() for _, part in units if part is not None}
        self._parts = parts | _parts(lent - parts.keys())
        self._required: dict[tuple[int, int | None], tuple[Requirement, Duty]] = {}
        self._judged: dict[tuple[object, ...], dict[str, Any]] = {}

    def columns_of(self, one: PastFitting) -> dict[str, Any]:
        required, duty = self._required_at(one)
        part = self._parts[one.part_id or 0]
        of_kind = judge_chain_for_place if part.is_chain else judge_for_place
        judge = partial(of_kind, required, duty=duty, practice=self._practice)
        rules = self._rules.at_position(self._places[one.position_id], one.at, judge)
        key = one.position_id, one.part_id, one.item and one.item.pk, required, rules.rules, rules.on
        if key not in self._judged:
            verdict = rules.settle(number_of(one.item), part.attributes, judge(part.attributes))
            self._judged[key] = _columns(FittingVerdict(self._places[one.position_id], one.item, verdict))
        return self._judged[key]

    def _required_at(self, one: PastFitting) -> tuple[Requirement, Duty]:
        """With what the last unit lends that was fitted there for good before."""
        units = self._lenders[one.position_id]
        before = bisect_left(units, one.at, key=lambda unit: unit[0])
        key = one.position_id, units[before - 1][1] if before else None
        if key not in self._required:
            unit = self._parts.get(key[1]) if key[1] is not None else None
            lender = unit.attributes if unit is not None and not unit.is_chain else None
            self._required[key] = required_with(self._places[one.position_id], lender)
        return self._required[key]


def _columns(found: FittingVerdict) -> dict[str, Any]:
    values = {"grade": found.grade.value, "quote": found.quote, "checks": found.checks}
    return {"position": found.position, **values}


def _units_for_good(positions: Collection[int]) -> dict[int, list[tuple[datetime, int | None]]]:
    """When each unit was fitted, and its specification; by position, the first one first."""
    rows = Installation.objects.filter(temporary_until__isnull=True).order_by("installed_at", "pk")
    part = Coalesce("specification", "item__specification")
    found: dict[int, list[tuple[datetime, int | None]]] = defaultdict(list)
    for some in _batches(positions):
        for position, *unit in rows.filter(position__in=some).values_list("position", "installed_at", part):
            found[position].append((unit[0], unit[1]))
    return found


def _batches(keys: Collection[Any]) -> Iterable[Sequence[Any]]:
    ordered = sorted(keys)
    return (ordered[start : start + AT_ONCE] for start in range(0, len(ordered), AT_ONCE))
