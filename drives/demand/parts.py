"""Numbers that are the same part, and which part each position asks for."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from drives.demand.cover import CoverMap
from drives.demand.request_matching import Asking
from drives.demand.unit_lives import Life
from inventory.models import Item, PartKind, Specification
from inventory.models.engagement import ENGAGEMENT_LENGTHS
from inventory.models.specification import LENGTHS

ESSENTIAL: Mapping[str, tuple[str, ...]] = {
    PartKind.CHAIN: ("pitch_mm", "roller_diameter_mm", "strands"),
    PartKind.BUSH: ("bush_size", "bore_mm"),
    PartKind.KEY: ("keyway_width_mm", "key_height_mm", "key_length_mm"),
    PartKind.JOINING_LINK: ("pitch_mm", "strands"),
    PartKind.CRANKED_LINK: ("pitch_mm", "strands"),
}
"""What must be known of two numbers before they can be called the same part."""

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


@dataclass(frozen=True)
class Parts:
    """Each item's part; a part is named by the lowest id of its numbers."""

    part_of: Mapping[int, int]

    @cached_property
    def members(self) -> Mapping[int, tuple[int, ...]]:
        found: dict[int, list[int]] = defaultdict(list)
        for item, part in sorted(self.part_of.items()):
            found[part].append(item)
        return {part: tuple(items) for part, items in found.items()}


def parts_of(items: Iterable[Item], cover: CoverMap) -> Parts:
    """Sprockets that drop into exactly the same positions, other parts of equal attributes; all else stands alone."""
    drop_in = cover.at("drop_in")
    first: dict[object, int] = {}
    part_of = {}
    for item in sorted(items, key=lambda item: item.pk):
        part_of[item.pk] = first.setdefault(_sameness(item, drop_in), item.pk)
    return Parts(part_of)


def _sameness(item: Item, drop_in: CoverMap) -> object:
    record = item.specification
    if record is None:
        return item.pk
    if record.kind == PartKind.SPROCKET:
        positions = frozenset(edge.position_id for edge in drop_in.positions_of(item.pk))
        return (item.unit, positions) if positions else item.pk
    return (item.unit, _attributes(record)) if _is_described(record) else item.pk


def _is_described(record: Specification) -> bool:
    needed = ESSENTIAL.get(record.kind)
    return needed is not None and all(getattr(record, name) not in (None, "") for name in needed)


def _attributes(record: Specification) -> tuple[object, ...]:
    return tuple(getattr(record, name) for name in COMPARED)


def homes(
    positions: Iterable[int],
    *,
    lives: Iterable[Life],
    askings: Iterable[Asking],
    cover: CoverMap,
    sprockets: frozenset[int],
) -> dict[int, int]:
    """The item that each position asks for: what sits there, else what was asked for most, else what drops in.

    A unit that was let in for a time only does not count; a position that nothing is known of has none.
    """
    fitted = _last_fitted(lives)
    asked = _most_asked(askings, sprockets)
    found = {}
    for position in positions:
        item = fitted.get(position) or asked.get(position) or _drops_in(position, cover)
        if item is not None:
            found[position] = item
    return found


def _last_fitted(lives: Iterable[Life]) -> dict[int, int]:
    last: dict[int, Life] = {}
    for life in lives:
        if life.item_id is None or life.is_temporary:
            continue
        known = last.get(life.position_id)
        if known is None or life.installed_at > known.installed_at:
            last[life.position_id] = life
    return {position: life.item_id for position, life in last.items() if life.item_id is not None}


def _most_asked(askings: Iterable[Asking], sprockets: frozenset[int]) -> dict[int, int]:
    counts: dict[int, Counter[int]] = defaultdict(Counter)
    for asking in askings:
        if asking.position_id is not None and asking.item_id in sprockets:
            counts[asking.position_id][asking.item_id] += asking.quantity
    return {
        position: min(found, key=lambda item, found=found: (-found[item], item))  # type: ignore[misc]
        for position, found in counts.items()
    }


def _drops_in(position: int, cover: CoverMap) -> int | None:
    items = [edge.item_id for edge in cover.items_of(position) if edge.grade == "drop_in"]
    return min(items, default=None)
