"""How much a part matters: by the worst drive that would stand still without it, since nothing else serves it."""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from inventory.models import Importance

WORST_FIRST = (Importance.VITAL, Importance.ESSENTIAL, Importance.UNKNOWN, Importance.DESIRABLE)
"""A drive of which nobody said how critical it is may be vital: it stands before one that was called desirable."""


class Link(Protocol):
    """An item that can serve a position, no worse than the worst grade that counts."""

    @property
    def position_id(self) -> int: ...
    @property
    def item_id(self) -> int: ...


class Graph(Protocol):
    @property
    def edges(self) -> Iterable[Link]: ...


@dataclass(frozen=True)
class DriveFacts:
    """Of the drive that a position belongs to; an empty criticality is one that is not known."""

    tag: str
    criticality: str
    is_lifting: bool = False

    @property
    def importance(self) -> Importance:
        return Importance(self.criticality) if self.criticality else Importance.UNKNOWN


@dataclass(frozen=True)
class ItemImportance:
    """`drive` is the one that sets it; empty where none does."""

    importance: Importance
    drive: str
    reason: str


def importances(
    cover: Graph,
    *,
    drives: Mapping[int, DriveFacts],
    at_hand: Collection[int],
    groups: Mapping[int, Hashable],
    item_ids: Iterable[int] = (),
) -> dict[int, ItemImportance]:
    """The importance of every item that serves a position, and of those named besides.

    Another candidate for a position is an item outside the item's own group of equal numbers that serves the position and
    is at hand: free on a shelf, or kept by a policy. A lifting drive gets no substitute, so no candidate counts there.
    """
    serving: dict[int, set[int]] = defaultdict(set)
    served: dict[int, set[int]] = {item: set() for item in item_ids}
    for link in cover.edges:
        serving[link.position_id].add(link.item_id)
        served.setdefault(link.item_id, set()).add(link.position_id)
    near = set(at_hand)

    def stands_alone(item: int, position: int) -> bool:
        if drives[position].is_lifting:
            return True
        own = groups.get(item, item)
        return all(groups.get(other, other) == own for other in serving[position] & near if other != item)

    found = {}
    for item, positions in sorted(served.items()):
        places = [position for position in sorted(positions) if position in drives]
        alone = [drives[position] for position in places if stands_alone(item, position)]
        found[item] = _importance(len(places), alone)
    return found


def _importance(places: int, alone: list[DriveFacts]) -> ItemImportance:
    if not places:
        return ItemImportance(Importance.UNKNOWN, "", "No position is known that it serves.")
    if not alone:
        where = "the one position" if places == 1 else f"each of the {places} positions"
        return ItemImportance(
            Importance.DESIRABLE, "", f"Another part that is at hand or kept serves {where} that it serves."
        )
    worst = min(alone, key=lambda drive: (WORST_FIRST.index(drive.importance), drive.tag))
    called = (
        f"is {worst.criticality}"
        if worst.criticality
        else "has no criticality recorded, so it may be a vital one"
    )
    only = "lifts, and takes nothing but it" if worst.is_lifting else "has nothing else at hand or kept"
    return ItemImportance(worst.importance, worst.tag, f"{worst.tag} {called} and {only}.")
