"""The rules that hold at a place, read beside what is read there anyway, and put into the verdicts on its items."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache, cached_property
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from drives.models import Plant, Position, SubstitutionRule
from drives.place.item_rules import ItemRule, RuleKind, fits_alone, with_rules
from inventory.catalogue.core_values import ATTRIBUTES, attributes_of
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Sprocket
from inventory.models import Item, PartKind, Specification
from inventory.models.engagement import ENGAGEMENT_LENGTHS
from inventory.plumbing.joint_statement import Parameters, Question, Row, answers, moment_of

Judge = Callable[[Sprocket], Verdict]
ORIGINAL = ("kind", "chain_designation", *ENGAGEMENT_LENGTHS, *ATTRIBUTES)
"""Of the item that is replaced: what its own verdict is made from."""
OF_RULE = (
    *("position_id", "drive_id", "plant_id", "withdrawn_at", "kind", "valid_from", "valid_until"),
    *("given_by", "reason"),
)
# A merged number names the item that goes on.
SOURCE = (
    "FROM drives_substitutionrule r JOIN inventory_item g ON g.id = r.item_id "
    "JOIN inventory_item i ON i.id = COALESCE(g.merged_into_id, g.id) "
    "LEFT JOIN inventory_item h ON h.id = r.instead_of_id "
    "LEFT JOIN inventory_item o ON o.id = COALESCE(h.merged_into_id, h.id) "
    "LEFT JOIN inventory_specification s ON s.id = o.specification_id WHERE "
)
EVERYWHERE = "r.plant_id IS NULL"


def rules_question(put: Parameters, position: Position | None) -> Question:
    """The rules of a position with its drive and plant, or those without a place, that were not withdrawn."""
    where = EVERYWHERE
    if position is not None:
        drive = position.drive
        where = (
            f"({EVERYWHERE} OR r.position_id = {put.put(position.pk)} OR r.drive_id = {put.put(drive.pk)} "
            f"OR r.plant_id = {put.put(drive.equipment.area.plant_id)} "
            "AND r.position_id IS NULL AND r.drive_id IS NULL)"
        )
    return _question(f"{where} AND r.withdrawn_at IS NULL")


def _question(where: str) -> Question:
    columns = (
        *(f"r.{name}" for name in OF_RULE),
        *("i.id", "i.stock_number", "i.specification_id", "o.id", "o.stock_number"),
        *(f"s.{name}" for name in ORIGINAL),
    )
    return Question(columns, SOURCE + where)


@dataclass(frozen=True)
class PlacedRule:
    """A rule with where it was given, when it was withdrawn, and the specification of its item."""

    rule: ItemRule
    place: tuple[str, int | None]
    withdrawn_at: datetime | None
    specification_id: int | None


def _placed(row: Row) -> PlacedRule | None:
    """None where both are one number since a merge."""
    named, rest = dict(zip(OF_RULE, row, strict=False)), row[len(OF_RULE) :]
    item, number, specification, original, original_number, *attributes = rest
    if item == original:
        return None
    until, withdrawn = named["valid_until"], named["withdrawn_at"]
    place = next((one for one in ("position", "drive") if named[f"{one}_id"] is not None), "plant")
    rule = ItemRule(
        kind=RuleKind(named["kind"]),
        item=item,
        stock_number=number,
        instead_of=original,
        instead_of_number=original_number,
        original=_sprocket(attributes),
        given_by=named["given_by"],
        reason=named["reason"],
        valid_from=date.fromisoformat(named["valid_from"]),
        valid_until=until and date.fromisoformat(until),
        names_place=place != "plant",
    )
    where = place, named[f"{place}_id"]
    return PlacedRule(rule, where, withdrawn and moment_of(withdrawn), specification)


@cache
def _columns() -> tuple[Any, ...]:
    return tuple(Specification._meta.get_field(name) for name in ORIGINAL)


def _sprocket(values: Row) -> Sprocket | None:
    if values[0] != PartKind.SPROCKET:
        return None
    own = {column.name: column.to_python(value) for column, value in zip(_columns(), values, strict=True)}
    return attributes_of(Specification(**own))


@dataclass(frozen=True)
class RulesHere:
    """Those of one place on a day, or, for `asked` that is replaced wherever it sits, those without a place.

    `judge` gives the verdict of a sprocket at the place by its attributes alone.
    """

    rules: tuple[PlacedRule, ...] = ()
    on: date = date.min
    lifting: bool | None = None
    judge: Judge | None = None
    asked: int | None = None

    @classmethod
    def at_position(cls, rows: Iterable[Row], position: Position, at: datetime, judge: Judge) -> "RulesHere":
        """Of the rows of `rules_question`."""
        return cls(
            _all_placed(rows), day_at(position.drive.equipment.area.plant, at), position.drive.lifting, judge
        )

    @classmethod
    def for_item(cls, rows: Iterable[Row], item: Item | None, at: datetime) -> "RulesHere":
        return cls(_all_placed(rows), day_at(None, at), asked=number_of(item))

    @cached_property
    def _by_item(self) -> Mapping[int, tuple[ItemRule, ...]]:
        found: dict[int, list[ItemRule]] = defaultdict(list)
        for one in self.rules:
            found[one.rule.item].append(one.rule)
        return {item: tuple(rules) for item, rules in found.items()}

    @property
    def held(self) -> tuple[ItemRule, ...]:
        return tuple(one.rule for one in self.rules if one.rule.holds_on(self.on))

    @property
    def named(self) -> tuple[str, ...]:
        """Stock numbers that are looked at whatever else could serve: a rule is never silent."""
        return tuple(dict.fromkeys(one.rule.stock_number for one in self.rules))

    @property
    def specifications(self) -> tuple[int, ...]:
        """Those of the items that are named."""
        return tuple({one.specification_id for one in self.rules if one.specification_id is not None})

    def judging(self, judge: Judge) -> Callable[[Item, Sprocket], Verdict]:
        """A verdict by attributes alone, with the rules for the item put into it."""
        return lambda item, offered: self.settle(item.pk, offered, judge(offered))

    def settle(self, item_id: int | None, offered: Sprocket, verdict: Verdict) -> Verdict:
        """The verdict on an item with its rules; without any it is the same one."""
        rules = () if item_id is None else self._by_item.get(item_id, ())
        if not rules:
            return verdict
        return with_rules(
            verdict, rules, offered=offered, lifting=self.lifting, on=self.on, is_wanted=self._is_wanted
        )

    def _is_wanted(self, rule: ItemRule) -> bool:
        """The item itself is asked for, or it fits here by its own attributes: rules make no chain."""
        if self.asked is not None:
            return rule.instead_of == self.asked
        return self.judge is not None and rule.original is not None and fits_alone(self.judge(rule.original))


NO_RULES = RulesHere()


def load_rules(position: Position | None, item: Item | None, at: datetime, judge: Judge) -> RulesHere:
    """Of a position, else those without a place, for what stands in for an item; one query."""
    put = Parameters()
    rows = answers(SubstitutionRule, put, {"item_rules": rules_question(put, position)})["item_rules"]
    if position is None:
        return RulesHere.for_item(rows, item, at)
    return RulesHere.at_position(rows, position, at, judge)


@dataclass(frozen=True)
class RuleBook:
    """All rules, for work on many positions."""

    by_place: Mapping[tuple[str, int | None], tuple[PlacedRule, ...]]

    @classmethod
    def load(cls) -> "RuleBook":
        """One query."""
        rows = answers(SubstitutionRule, Parameters(), {"item_rules": _question("1 = 1")})
        found: dict[tuple[str, int | None], list[PlacedRule]] = defaultdict(list)
        for one in _all_placed(rows["item_rules"]):
            found[one.place].append(one)
        return cls({place: tuple(rules) for place, rules in found.items()})

    def at_position(self, position: Position, at: datetime, judge: Judge) -> RulesHere:
        """As they were known at a moment."""
        if not self.by_place:
            return NO_RULES
        plant = position.drive.equipment.area.plant_id
        places = (("position", position.pk), ("drive", position.drive_id), ("plant", plant), ("plant", None))
        known = (one for place in places for one in self.by_place.get(place, ()))
        rules = tuple(one for one in known if one.withdrawn_at is None or one.withdrawn_at > at)
        return (
            RulesHere(rules, day_at(position.drive.equipment.area.plant, at), position.drive.lifting, judge)
            if rules
            else NO_RULES
        )


def _all_placed(rows: Iterable[Row]) -> tuple[PlacedRule, ...]:
    return tuple(found for row in rows if (found := _placed(row)) is not None)


def number_of(item: Item | None) -> int | None:
    """The id of the item by which rules know it: of a merged number, that which goes on."""
    return None if item is None else item.merged_into_id or item.pk


def day_at(plant: Plant | None, at: datetime) -> date:
    """The date at a plant: a rule holds to the end of its last day there."""
    return timezone.localdate(at) if plant is None else at.astimezone(ZoneInfo(plant.timezone)).date()
