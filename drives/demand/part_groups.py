"""Items that are the same part, and the item that each position needs."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet

from drives.demand.cover import ROWS_AT_ONCE, CoverMap, grouped
from drives.demand.request_matching import DemandEvent
from drives.lessons.unit_lives import UnitLife
from drives.models import ItemPart
from inventory.interchange.material import stainless_grade
from inventory.interchange.vocabulary import Material
from inventory.models import Item, PartKind
from inventory.models.engagement import ENGAGEMENT_LENGTHS
from inventory.models.specification import LENGTHS

ESSENTIAL: Mapping[str, tuple[str, ...]] = {
    PartKind.CHAIN: ("pitch_mm", "roller_diameter_mm", "strands"),
    PartKind.BUSH: ("bush_size", "bore_mm"),
    PartKind.KEY: ("keyway_width_mm", "key_height_mm", "key_length_mm"),
    PartKind.JOINING_LINK: ("pitch_mm", "strands"),
    PartKind.CRANKED_LINK: ("pitch_mm", "strands"),
}
"""What must be known of two items before they can be the same part."""

COMPARED = (
    *dict.fromkeys((*LENGTHS, *ENGAGEMENT_LENGTHS)),
    "kind",
    "strands",
    "bush_size",
    "key_standard",
    "material",
    "material_grade",
    "food_contact",
    "non_sparking",
)

DECLARED_OF_SPROCKETS = ("hardened_teeth", "food_contact", "non_sparking")
"""Not recorded counts as no: what is declared is never taken for what is not."""

DESCRIBED = tuple(dict.fromkeys((*COMPARED, *DECLARED_OF_SPROCKETS)))


@dataclass(frozen=True)
class PartGroups:
    """Each item's part; a part is named by the lowest id of its items."""

    part_of: Mapping[int, int]
    duty_of: Mapping[int, tuple[object, ...]] = field(default_factory=dict)
    """Of sprockets: what they carry and how long, where two of them go on the same places."""

    def differ_in_duty(self, first: int, second: int) -> bool:
        """Lives of one say nothing of the other; a material that is not recorded is no difference."""
        pairs = zip(self.duty_of.get(first, ()), self.duty_of.get(second, ()), strict=False)
        return any(one != other and "" not in (one, other) for one, other in pairs)

    @cached_property
    def members(self) -> Mapping[int, tuple[int, ...]]:
        return grouped((part, item) for item, part in sorted(self.part_of.items()))


def group_parts(items: QuerySet[Item], cover: CoverMap) -> PartGroups:
    """Sprockets of equal duty that drop into exactly the same positions, other parts of equal attributes.

    Every other item stands alone; a merged number is the part that it was merged into. There may be a million items, so none
    is made a record.
    """
    drop_in = cover.at("drop_in")
    keys, duty_of, merged = {}, {}, {}
    for pk, into, unit, described in _described(_columns(items).iterator(ROWS_AT_ONCE)):
        if into is not None:
            merged[pk] = into
        if described["kind"] == PartKind.SPROCKET:
            duty_of[pk] = _duty(described)
        keys[pk] = _part_key(pk, unit, described, drop_in, duty_of.get(pk))
    keys |= {pk: keys.get(into, into) for pk, into in merged.items()}
    first: dict[object, int] = {}
    return PartGroups({pk: first.setdefault(keys[pk], pk) for pk in sorted(keys)}, duty_of)


def stored_groups(item_ids: Iterable[int], parts: Collection[int]) -> PartGroups:
    """As they were grouped when all were: of these items, and all items of these parts; two queries."""
    wanted = {*item_ids, *parts}
    grouped_items = ItemPart.objects.filter(Q(item__in=wanted) | Q(part__in=parts)).order_by()
    part_of = {item: item for item in wanted} | dict(grouped_items.values_list("item", "part"))
    part_of |= {part: part for part in part_of.values()}
    items = _described(list(_columns(Item.objects.filter(pk__in=part_of).order_by())))
    duty_of = {pk: _duty(one) for pk, *_, one in items if one["kind"] == PartKind.SPROCKET}
    return PartGroups(part_of, duty_of)


def store_groups(groups: PartGroups) -> None:
    """Of items that are not alone, in place of what stood."""
    found = {item: part for part, some in groups.members.items() if len(some) > 1 for item in some}
    if found != dict(ItemPart.objects.order_by().values_list("item", "part")):
        with transaction.atomic():
            ItemPart.objects.all().delete()
            rows = [ItemPart(item_id=item, part=part) for item, part in found.items()]
            ItemPart.objects.bulk_create(rows, batch_size=ROWS_AT_ONCE)


def _columns(items: QuerySet[Item]) -> "QuerySet[Item, Any]":
    return items.values_list(
        "pk", "merged_into_id", "unit", *(f"specification__{name}" for name in DESCRIBED)
    )


def _described(rows: Iterable[Any]) -> Iterator[tuple[int, int | None, str, dict[str, Any]]]:
    for pk, into, unit, *values in rows:
        yield pk, into, unit, dict(zip(DESCRIBED, values, strict=True))


def _duty(sprocket: Mapping[str, Any]) -> tuple[object, ...]:
    """The size of its bush is its rating; a grade tells stainless steels apart."""
    is_stainless = sprocket["material"] == Material.STAINLESS_STEEL
    grade = stainless_grade(sprocket["material_grade"]) if is_stainless else ""
    declared = (bool(sprocket[name]) for name in DECLARED_OF_SPROCKETS)
    return (sprocket["material"], grade, sprocket["bush_size"].upper(), *declared)


def _part_key(item: int, unit: str, described: Mapping[str, Any], drop_in: CoverMap, duty: object) -> object:
    if duty is not None:
        positions = frozenset(edge.position_id for edge in drop_in.positions_of(item))
        return (unit, positions, duty) if positions else item
    needed = ESSENTIAL.get(described["kind"])
    if needed is None or any(described[name] in (None, "") for name in needed):
        return item
    return (unit, tuple(described[name] for name in COMPARED))


def position_items(
    positions: Iterable[int],
    *,
    lives: Iterable[UnitLife],
    events: Iterable[DemandEvent],
    cover: CoverMap,
    sprockets: frozenset[int],
) -> dict[int, int]:
    """The item that each position needs: the one fitted, else the one requested most, else one that drops in.

    A unit fitted for a limited time does not count; a position of which nothing is known has no item.
    """
    fitted = _last_fitted(lives)
    requested = _most_requested(events, sprockets)
    found = {}
    for position in positions:
        item = fitted.get(position) or requested.get(position) or _drops_in(position, cover)
        if item is not None:
            found[position] = item
    return found


def _last_fitted(lives: Iterable[UnitLife]) -> dict[int, int]:
    last: dict[int, UnitLife] = {}
    for life in lives:
        if life.item_id is None or life.is_temporary:
            continue
        known = last.get(life.position_id)
        if known is None or life.installed_at > known.installed_at:
            last[life.position_id] = life
    return {position: life.item_id for position, life in last.items() if life.item_id is not None}


def _most_requested(events: Iterable[DemandEvent], sprockets: frozenset[int]) -> dict[int, int]:
    counts: dict[int, Counter[int]] = defaultdict(Counter)
    for event in events:
        if event.position_id is not None and event.item_id in sprockets:
            counts[event.position_id][event.item_id] += event.quantity
    return {
        position: min(found, key=lambda item, found=found: (-found[item], item))  # type: ignore[misc]
        for position, found in counts.items()
    }


def _drops_in(position: int, cover: CoverMap) -> int | None:
    items = [edge.item_id for edge in cover.items_of(position) if edge.grade == "drop_in"]
    return min(items, default=None)
