"""What an engineer has to be asked before two numbers become one, and what forbids it."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Q

from drives.models import Cover, Installation, Plant, Position
from inventory.catalogue.likeness import is_readable, likeness_of, likeness_of_items
from inventory.catalogue.plant_practice import current_practice
from inventory.facts import Fact, Refusal, fact
from inventory.interchange.vocabulary import Grade
from inventory.models import Condition, FitQuestion, Item, StockLevel

MOST_NAMED = 5
"""Positions or plants that a doubt names; the others are counted."""
ANOTHER_PART = frozenset({Grade.WITH_WORK, Grade.UNFIT})


class MergeRefused(Refusal):
    """Nothing was merged, or nothing was undone."""


def refuse_merge(item: Item, into: Item) -> None:
    """Whatever no engineer can allow; both items are locked, or only looked at."""
    names = {"item": item.stock_number, "into": into.stock_number}
    if item.pk == into.pk:
        raise MergeRefused(fact("merge_with_itself", item=item.stock_number), field="into")
    for one, field in ((item, "item"), (into, "into")):
        if one.merged_into_id is not None:
            other = Item.objects.get(pk=one.merged_into_id).stock_number
            raise MergeRefused(fact("number_merged", item=one.stock_number, into=other), field=field)
    if item.unit != into.unit:
        units = {"unit": item.unit, "into_unit": into.unit}
        raise MergeRefused(fact("merge_of_other_unit", **names, **units), field="unit")
    if item.currency != into.currency and item.unit_cost is not None and into.unit_cost is not None:
        found = {"currency": item.currency, "into_currency": into.currency}
        raise MergeRefused(fact("merge_of_other_currency", **names, **found), field="currency")
    _refuse_other_part(item, into, names)
    _refuse_what_is_open([item, into])


def doubts_of(item: Item, into: Item) -> tuple[Fact, ...]:
    """None where the numbers are one part wherever either of them goes."""
    return (
        *_unlike(item, into),
        *_other_positions(item, into),
        *_lifting(item, into),
        *_other_plants(item, into),
    )


def _refuse_other_part(item: Item, into: Item, names: dict[str, str]) -> None:
    one, other = item.specification, into.specification
    if one is None or other is None:
        return
    if one.kind != other.kind:
        raise MergeRefused(
            fact("merge_of_other_kind", **names, kind=one.kind, into_kind=other.kind), field="kind"
        )
    if not (is_readable(one) and is_readable(other)):
        return
    found = likeness_of(one, other, current_practice())
    if {found.there, found.back} & ANOTHER_PART:
        because = found.as_facts(item.stock_number, into.stock_number)
        raise MergeRefused(fact("merge_of_other_part", **names, because=because), field="specification")


def _refuse_what_is_open(items: Iterable[Item]) -> None:
    for item in items:
        held = StockLevel.objects.of_item(item).not_empty().filter(condition=Condition.ON_HOLD)
        level = held.select_related("storeroom").order_by("pk").first()
        if level is not None:
            where = {"storeroom": level.storeroom.code, "quantity": level.on_hand}
            raise MergeRefused(
                fact("merge_of_item_on_hold", item=item.stock_number, **where), field="condition"
            )
        question = FitQuestion.objects.filter(item=item, answered_at__isnull=True).order_by("pk").first()
        if question is not None:
            found = fact("merge_with_open_fit_question", item=item.stock_number, fit_question=question.pk)
            raise MergeRefused(found, field="fit_question")


def _unlike(item: Item, into: Item) -> tuple[Fact, ...]:
    one, other = item.specification, into.specification
    for record, owner in ((one, item), (other, into)):
        if record is None or not is_readable(record):
            return (fact("merge_of_unread_item", item=owner.stock_number),)
    found = likeness_of_items(item, into, current_practice())
    return found.as_facts(item.stock_number, into.stock_number)


def _other_positions(item: Item, into: Item) -> tuple[Fact, ...]:
    """Positions where one of them drops in and the other does not, by the verdicts of the last run."""
    rows = Cover.objects.filter(grade=Grade.DROP_IN.value)
    of_item, of_into = ({*rows.filter(item=one).values_list("position", flat=True)} for one in (item, into))
    found = []
    for only, there, other in ((of_item - of_into, item, into), (of_into - of_item, into, item)):
        if only:
            tags = Position.objects.filter(pk__in=only).order_by("tag").values_list("tag", flat=True)
            found.append(
                fact(
                    "drops_in_alone",
                    item=there.stock_number,
                    other=other.stock_number,
                    positions=tuple(tags[:MOST_NAMED]),
                    count=len(only),
                )
            )
    return tuple(found)


def _lifting(item: Item, into: Item) -> tuple[Fact, ...]:
    fitted = Installation.objects.filter(item__in=[item, into], position__drive__lifting=True)
    tags = list(fitted.order_by("position__tag").values_list("position__tag", flat=True).distinct())
    return (
        (fact("merge_on_lifting_drive", positions=tuple(tags[:MOST_NAMED]), count=len(tags)),) if tags else ()
    )


def _other_plants(item: Item, into: Item) -> tuple[Fact, ...]:
    """The plants that keep or run either of them do not all treat substitutes alike."""
    keeps = Q(storeroom__levels__item__in=[item, into])
    runs = Q(areas__equipment__drives__positions__installations__item__in=[item, into])
    ids = {*Plant.objects.filter(keeps).values_list("pk", flat=True)}
    ids |= {*Plant.objects.filter(runs).values_list("pk", flat=True)}
    plants: Any = Plant.objects.filter(pk__in=ids).order_by("code").values_list("code", "substitute_approval")
    if len({rule for _, rule in plants}) < 2:
        return ()
    return (
        fact(
            "plants_differ", plants=tuple(fact("plant_rule", plant=code, rule=rule) for code, rule in plants)
        ),
    )
