"""What to measure next: attributes that are not recorded of pieces on a shelf, by the money and the verdicts that wait for them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum

from drives.assortment.orphans import MOST_NAMED
from drives.demand.cover import GRADES_KEPT
from drives.lessons.stop_costs import DEFAULT_HOURS_TO_EXPEDITE
from drives.models import Cover, Criticality, MissingAttribute
from drives.place.missing_attributes import FITTING
from inventory.catalogue.measured_attributes import how_to_measure, is_recorded, shares_specification
from inventory.facts import Fact
from inventory.models import Item, StockingTerms, StockLevel
from inventory.models.access_scope import in_plants, in_storerooms
from inventory.planning.terms import load_terms

PLANT = "position__drive__equipment__area__plant"
ORDER = {name: place for place, name in enumerate(FITTING)}


@dataclass(frozen=True, slots=True)
class ShelfToMeasure:
    storeroom: str
    condition: str
    pieces: int


@dataclass(frozen=True, kw_only=True)
class AttributeToMeasure:
    """An attribute of an item of which pieces lie on a shelf."""

    item_id: int
    stock_number: str
    description: str
    attribute: str
    verdicts: int
    """Positions in use where it alone keeps the item from serving."""
    verdicts_with_others: int
    """Positions in use where one or two others are missing with it."""
    vital: int
    """Of all these, those of vital drives."""
    without_stock: int
    """Of all these, those for which nothing on any shelf serves."""
    positions: tuple[str, ...]
    shelves: tuple[ShelfToMeasure, ...]
    pieces: int
    stock_value: Decimal | None
    """Of the available pieces, where the item serves no position in use; None without a price in the currency of the terms."""
    stop_cost: Decimal
    """Of the dearest drive without stock, while an emergency order takes."""

    @property
    def blocked(self) -> Decimal:
        return (self.stock_value or Decimal(0)) + self.stop_cost


def attributes_to_measure(today: date, *, storeroom: str = "", plant: str = "") -> list[AttributeToMeasure]:
    """The most money first, then the most verdicts; six queries, linear in the rows of what is missing."""
    shelves = _shelves(storeroom)
    rows = _missing(today, plant).filter(item__in=shelves)
    items = Item.objects.with_specification().in_bulk({row["item"] for row in rows})
    serving = _serving(items, today)
    covered = _covered({row["position"] for row in rows})
    hours = StockingTerms.objects.values_list("hours_to_expedite", flat=True).first()
    by_line: dict[tuple[int, str], list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        if not is_recorded(items[row["item"]].specification, row["attribute"]):
            by_line[row["item"], row["attribute"]].append(row)
    terms = _Terms(load_terms().currency, Decimal(str(DEFAULT_HOURS_TO_EXPEDITE if hours is None else hours)))
    found = [
        terms.line(items[item], attribute, waiting, shelves[item], item in serving, covered)
        for (item, attribute), waiting in by_line.items()
    ]
    return sorted(found, key=_worst_first)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureQuestion:
    """The attribute of one item that decides most, and where to measure it."""

    attribute: str
    how: Fact
    verdicts: int
    verdicts_with_others: int
    also_items: tuple[str, ...]
    """Other stock numbers with the same specification: the answer is written for them too."""


def measure_question(item: Item, today: date) -> MeasureQuestion | None:
    """None where nothing that is missing keeps the item from serving; two queries."""
    specification = item.specification
    if specification is None or item.merged_into_id is not None:
        return None
    rows = in_plants(MissingAttribute.objects.filter(in_use(today), item=item), PLANT).order_by()
    counted = {
        name: (alone, every - alone)
        for name, alone, every in rows.values("attribute")
        .annotate(alone=Count("pk", filter=Q(is_alone=True)), every=Count("pk"))
        .values_list("attribute", "alone", "every")
        if not is_recorded(specification, name)
    }
    if not counted:
        return None
    name = max(counted, key=lambda one: (*counted[one], -ORDER[one]))
    alone, others = counted[name]
    return MeasureQuestion(
        attribute=name,
        how=how_to_measure(specification, name),
        verdicts=alone,
        verdicts_with_others=others,
        also_items=tuple(shares_specification(item)),
    )


def _worst_first(line: AttributeToMeasure) -> tuple[Any, ...]:
    waiting = -line.verdicts, -line.verdicts_with_others
    return (-line.blocked, *waiting, -line.vital, line.stock_number, ORDER[line.attribute])


def _shelves(storeroom: str) -> Mapping[int, list[ShelfToMeasure]]:
    levels = in_storerooms(StockLevel.objects.available())
    if storeroom:
        levels = levels.filter(storeroom__code=storeroom)
    missing = MissingAttribute.objects.filter(item=OuterRef("item"))
    rows = (
        levels.filter(Exists(missing), item__merged_into__isnull=True)
        .order_by("storeroom__code", "condition")
        .values_list("item", "storeroom__code", "condition")
        .annotate(free=Sum(F("on_hand") - F("reserved")))
    )
    found: dict[int, list[ShelfToMeasure]] = defaultdict(list)
    for item, *shelf in rows:
        found[item].append(ShelfToMeasure(*shelf))
    return found


def in_use(today: date) -> Q:
    return ~(Q(position__in_use_until__lt=today) | Q(position__drive__in_use_until__lt=today))


def _missing(today: date, plant: str) -> QuerySet[Any, Any]:
    rows = in_plants(MissingAttribute.objects.filter(in_use(today)), PLANT)
    if plant:
        rows = rows.filter(**{f"{PLANT}__code": plant})
    drive = {
        "tag": F("position__tag"),
        "criticality": F("position__drive__criticality"),
        "cost": F("position__drive__downtime_cost_per_hour"),
    }
    return rows.order_by("position__tag").values("item", "attribute", "is_alone", "position", **drive)


def _serving(items: Iterable[int], today: date) -> set[int]:
    cover = Cover.objects.filter(in_use(today), item__in=list(items), grade__in=GRADES_KEPT)
    return set(cover.order_by().values_list("item", flat=True).distinct())


def _covered(positions: Iterable[int]) -> set[int]:
    """Of these, the positions for which something lies on any shelf, in scope or not."""
    stock = StockLevel.objects.available().filter(item=OuterRef("item"))
    cover = Cover.objects.filter(Exists(stock), position__in=list(positions), grade__in=GRADES_KEPT)
    return set(cover.order_by().values_list("position", flat=True).distinct())


@dataclass(frozen=True)
class _Terms:
    currency: str
    hours_to_expedite: Decimal

    def line(
        self,
        item: Item,
        attribute: str,
        waiting: list[dict[str, Any]],
        shelves: list[ShelfToMeasure],
        serves: bool,
        covered: set[int],
    ) -> AttributeToMeasure:
        alone = [row for row in waiting if row["is_alone"]]
        bare = [row for row in waiting if row["position"] not in covered]
        pieces = sum(shelf.pieces for shelf in shelves)
        return AttributeToMeasure(
            item_id=item.pk,
            stock_number=item.stock_number,
            description=item.description,
            attribute=attribute,
            verdicts=len(alone),
            verdicts_with_others=len(waiting) - len(alone),
            vital=sum(row["criticality"] == Criticality.VITAL for row in waiting),
            without_stock=len(bare),
            positions=tuple(row["tag"] for row in waiting[:MOST_NAMED]),
            shelves=tuple(shelves),
            pieces=pieces,
            stock_value=Decimal(0) if serves else self._value(item, pieces),
            stop_cost=max((row["cost"] or Decimal(0) for row in bare), default=Decimal(0))
            * self.hours_to_expedite,
        )

    def _value(self, item: Item, pieces: int) -> Decimal | None:
        if item.unit_cost is None or item.currency != self.currency:
            return None
        value: Decimal = item.unit_cost * pieces
        return value
