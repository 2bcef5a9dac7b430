"""Groups of items that are one part by the verdict in both directions; and, of what cannot be read, by likeness of words."""

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from itertools import groupby
from typing import Any

from rapidfuzz import fuzz

from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.likeness import PairVerdict, is_readable, likeness_of_items
from inventory.catalogue.plant_practice import current_practice
from inventory.facts import Fact
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Grade
from inventory.models import Item, Likeness, PartKind, Specification
from inventory.models.specification import NOT_ATTRIBUTES

ROWS_AT_ONCE = 2_000
ITEMS_AT_ONCE = 500
"""Specifications that are held at once."""
MOST_COMPARED = 40
"""Different records of one size that are compared with each other: more are compared in parts of so many, by stock number."""
LEAST_WORDS_ALIKE = 90.0
"""Of 100: from here on descriptions are proposed as similar. Judgement of this project."""
MOST_IN_BLOCK = 50
"""Unreadable items with the same figures in their descriptions: of more than these the words tell too little."""
A_HUNDREDTH = Decimal("0.01")

KEY = ("kind", "pitch_mm", "teeth")
"""The order of the index of the shortlist, in which the catalogue is read."""
FINER = (
    *("roller_diameter_mm", "strands", "bore_type", "bore_mm", "bush_size"),
    *("keyway_width_mm", "key_height_mm", "key_length_mm"),
)
DECIDING = (
    *(
        "role_kind",
        "hub_style",
        "keyway_depth_mm",
        "key_standard",
        "hub_diameter_mm",
        "length_through_bore_mm",
    ),
    *("material", "hardened_teeth", "food_contact", "non_sparking", "single_cut", "hex_across_flats_mm"),
)
"""Of a sprocket, beside its size. Makers differ lawfully in the others, and a verdict weighs them."""
MOST_DIFFERENT = 1
"""Deciding attributes that may be recorded differently of parts that are nearly equal: with two it is a design of its own. Judgement."""
FIGURES = re.compile(r"\d+(?:[.,/]\d+)*")


DIFFERENT_DESIGNS = PairVerdict(Grade.NEEDS_REVIEW, Grade.NEEDS_REVIEW)


@dataclass(frozen=True)
class FoundGroup:
    """Item ids, the lowest first; `differences` where they are no drop-ins for each other."""

    likeness: str
    items: tuple[int, ...]
    differences: tuple[Fact, ...] = ()


def find_groups() -> Iterator[FoundGroup]:
    """Of the whole catalogue, which is read once in the order of an index; what is compared stays inside one size."""
    practice = current_practice()
    waiting: list[tuple[int, ...]] = []
    for bucket in _buckets(_readable_rows()):
        waiting.append(bucket)
        if sum(map(len, waiting)) >= ITEMS_AT_ONCE:
            yield from _judged(waiting, practice)
            waiting = []
    yield from _judged(waiting, practice)
    yield from _similar_words()


def _readable_rows() -> Any:
    rows = Item.objects.not_merged().filter(specification__isnull=False)
    return rows.exclude(specification__kind=PartKind.OTHER)


def _buckets(rows: Any) -> Iterator[tuple[int, ...]]:
    """Items that may be one part: of one size to a hundredth of a millimetre, as sizes are written."""
    columns = [f"specification__{name}" for name in (*KEY, *FINER)]
    ordered = rows.order_by(*columns[: len(KEY)], "pk").values_list("pk", "unit", *columns)
    sizes = groupby(ordered.iterator(ROWS_AT_ONCE), key=lambda row: row[2 : 2 + len(KEY)])
    for _, same in sizes:
        found: dict[tuple[Any, ...], list[int]] = defaultdict(list)
        for pk, *values in same:
            found[tuple(map(_as_written, values))].append(pk)
        yield from (tuple(items) for items in found.values() if len(items) > 1)


def _as_written(value: Any) -> Any:
    if isinstance(value, Decimal):
        return value.quantize(A_HUNDREDTH, ROUND_HALF_UP)
    return value.upper() if isinstance(value, str) else value


def _judged(buckets: Sequence[tuple[int, ...]], practice: Practice) -> Iterator[FoundGroup]:
    pks = [pk for bucket in buckets for pk in bucket]
    items = Item.objects.with_specification().in_bulk(pks)
    for bucket in buckets:
        readable = [items[pk] for pk in bucket if pk in items and _has_readable(items[pk])]
        yield from _of_bucket(readable, practice)


def _has_readable(item: Item) -> bool:
    return item.specification is not None and is_readable(item.specification)


def _of_bucket(items: Iterable[Item], practice: Practice) -> Iterator[FoundGroup]:
    """Items of one record are one class; classes that are drop-ins for each other are one part."""
    classes: dict[object, list[Item]] = defaultdict(list)
    for item in items:
        classes[_record_key(item)].append(item)
    known = sorted(classes.values(), key=lambda alike: (-len(alike), alike[0].pk))
    for start in range(0, len(known), MOST_COMPARED):
        yield from _of_classes(known[start : start + MOST_COMPARED], practice)


def _record_key(item: Item) -> object:
    record = item.specification
    assert record is not None
    if record.kind == PartKind.SPROCKET:
        return attributes_of(record)
    columns = Specification._meta.concrete_fields
    return tuple(getattr(record, one.attname) for one in columns if one.name not in NOT_ATTRIBUTES)


def _of_classes(classes: list[list[Item]], practice: Practice) -> Iterator[FoundGroup]:
    known: dict[tuple[int, int], PairVerdict] = {}

    def compared(one: list[Item], other: list[Item]) -> PairVerdict:
        first, second = one[0], other[0]
        if (first.pk, second.pk) not in known:
            known[first.pk, second.pk] = _verdict_of(first, second, practice)
        return known[first.pk, second.pk]

    parts: list[list[list[Item]]] = []
    for one in classes:
        alike = (part for part in parts if all(compared(own, one).is_equal for own in part))
        part = next(alike, None)
        if part is None:
            parts.append([one])
        else:
            part.append(one)
    while parts:
        first, *rest = parts
        near = [part for part in rest if compared(first[0], part[0]).is_near]
        parts = [part for part in rest if part not in near]
        members = sorted(item.pk for part in (first, *near) for one in part for item in one)
        # A record that is no drop-in for itself, as a lack of it forbids, is equal to none.
        if len(members) > 1 and (near or len(first) > 1 or compared(first[0], first[0]).is_equal):
            yield FoundGroup(
                Likeness.NEAR if near else Likeness.EQUAL,
                tuple(members),
                tuple(
                    found
                    for part in near
                    for found in compared(first[0], part[0]).as_facts(
                        first[0][0].stock_number, part[0][0].stock_number
                    )
                ),
            )


def _verdict_of(first: Item, second: Item, practice: Practice) -> PairVerdict:
    one, other = first.specification, second.specification
    assert one is not None
    assert other is not None
    if one.kind == PartKind.SPROCKET and _designs_differ(one, other):
        return DIFFERENT_DESIGNS
    return likeness_of_items(first, second, practice)


def _designs_differ(one: Specification, other: Specification) -> bool:
    """Told without a verdict, as a catalogue has many parts of one size."""
    left = MOST_DIFFERENT
    for name in DECIDING:
        mine, theirs = getattr(one, name), getattr(other, name)
        if mine != theirs and mine not in (None, "") and theirs not in (None, ""):
            left -= 1
            if left < 0:
                return True
    return False


def _similar_words() -> Iterator[FoundGroup]:
    """Proposals only, of items without a readable specification: compared where the figures in their descriptions are the same."""
    blocks: dict[tuple[str, ...], list[tuple[int, str, str]]] = defaultdict(list)
    for pk, unit, text in _unreadable():
        figures = tuple(sorted(FIGURES.findall(text)))
        if len(figures) > 1:
            blocks[unit, *figures].append((pk, unit, text.casefold()))
    for block in blocks.values():
        if 1 < len(block) <= MOST_IN_BLOCK:
            yield from _alike_in(block)


def _unreadable() -> Iterator[tuple[int, str, str]]:
    rows = Item.objects.not_merged().exclude(description="")
    bare = rows.filter(specification__isnull=True).order_by("pk")
    yield from bare.values_list("pk", "unit", "description").iterator(ROWS_AT_ONCE)
    doubtful = rows.filter(specification__kind=PartKind.SPROCKET, specification__teeth__isnull=True)
    doubtful |= rows.filter(specification__kind=PartKind.SPROCKET, specification__pitch_mm__isnull=True)
    yield from doubtful.order_by("pk").values_list("pk", "unit", "description").iterator(ROWS_AT_ONCE)


def _alike_in(block: Collection[tuple[int, str, str]]) -> Iterator[FoundGroup]:
    left = list(block)
    while left:
        (pk, _, text), *rest = left
        alike = [one for one in rest if fuzz.token_sort_ratio(text, one[2]) >= LEAST_WORDS_ALIKE]
        left = [one for one in rest if one not in alike]
        if alike:
            yield FoundGroup(Likeness.WORDS, tuple(sorted([pk, *(one[0] for one in alike)])))
