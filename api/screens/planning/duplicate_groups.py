"""Groups of duplicates as the page shows them: each number with its shelves, and what is open under it."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db.models import Count, Prefetch, QuerySet, Sum

from api.edge.scope import visible_to_caller
from api.wording.sentences import stored_sentences
from drives.duplicates.stored import open_groups
from inventory.models import (
    CountTask,
    DuplicateGroup,
    DuplicateMember,
    DuplicateShelf,
    FitQuestion,
    Item,
    Likeness,
    Reservation,
    StockLevel,
    StockPolicy,
    SupplyOrder,
)

PAGE_SIZE = 20
Place = tuple[int, int]
"""Item and storeroom."""


@dataclass(frozen=True)
class GroupShelf:
    """One number in one storeroom, as it is now; `demand` and `pieces` as of the last search."""

    storeroom: str
    on_hand: int
    reserved: int
    policy: StockPolicy | None
    demand: float
    pieces: int


@dataclass
class GroupNumber:
    item: Item
    demand: float
    shelves: list[GroupShelf] = field(default_factory=list)
    open_things: tuple[tuple[str, int], ...] = ()
    """What is open under it, by kind; where there is any."""

    @property
    def on_hand(self) -> int:
        return sum(shelf.on_hand for shelf in self.shelves)


@dataclass
class ShownGroup:
    group: DuplicateGroup
    numbers: list[GroupNumber]
    together: list[tuple[str, int]]
    """Pieces to keep in each storeroom as one stock."""

    @property
    def title(self) -> str:
        return ", ".join(one.item.stock_number for one in self.numbers)

    @property
    def proposed(self) -> int:
        """The number to stay: bought, needed most, most in stock, the lowest."""
        best = min(
            self.numbers,
            key=lambda one: (
                one.item.lifecycle != "active",
                -one.demand,
                -one.on_hand,
                one.item.stock_number,
            ),
        )
        return best.item.pk

    @property
    def is_equal(self) -> bool:
        return self.group.likeness == Likeness.EQUAL

    @property
    def more_on_hand(self) -> int:
        return max(sum(one.on_hand for one in self.numbers) - self.group.pieces_together, 0)

    @property
    def differences(self) -> list[str]:
        return stored_sentences(self.group.differences)


@dataclass(frozen=True)
class DuplicateTotals:
    groups: int
    sums: tuple[tuple[str, Decimal, Decimal], ...]
    """Currency, cost a year, value of what is too much."""


def visible_groups(likeness: str) -> QuerySet[DuplicateGroup]:
    rows = visible_to_caller(open_groups())
    return rows.filter(likeness=likeness) if likeness else rows


def totals_of(groups: QuerySet[DuplicateGroup]) -> DuplicateTotals:
    by_currency = groups.order_by("currency").values("currency")
    rows = by_currency.annotate(
        number=Count("pk"), yearly=Sum("yearly_cost"), excess=Sum("excess_value")
    ).values_list("currency", "number", "yearly", "excess")
    found = list(rows)
    return DuplicateTotals(
        groups=sum(number for _, number, _, _ in found),
        sums=tuple(
            (currency, yearly or Decimal(0), excess or Decimal(0)) for currency, _, yearly, excess in found
        ),
    )


def shown_groups(groups: QuerySet[DuplicateGroup]) -> list[ShownGroup]:
    """A fixed number of queries."""
    rows = groups.prefetch_related(
        Prefetch("members", DuplicateMember.objects.select_related("item").order_by("item__stock_number")),
        Prefetch("shelves", DuplicateShelf.objects.select_related("storeroom").order_by("storeroom__code")),
    )
    found = list(rows)
    items = [one.item for group in found for one in group.members.all() if one.item.merged_into_id is None]
    places, open_things = _places(items), _open_things(items)
    return [_shown(group, places, open_things) for group in found]


def _shown(
    group: DuplicateGroup,
    places: Mapping[int, Sequence[tuple[str, int, int, StockPolicy | None, int]]],
    open_things: Mapping[int, tuple[tuple[str, int], ...]],
) -> ShownGroup:
    kept: dict[Place, dict[str, Any]] = {
        (one["item"], shelf.storeroom_id): one for shelf in group.shelves.all() for one in shelf.numbers
    }
    numbers = []
    for member in group.members.all():
        if member.item.merged_into_id is not None:
            continue
        shelves = []
        for code, on_hand, reserved, policy, room in places.get(member.item_id, ()):
            own = kept.get((member.item_id, room), {})
            demand, pieces = own.get("demand_per_year", 0.0), own.get("pieces", 0)
            shelves.append(GroupShelf(code, on_hand, reserved, policy, demand, pieces))
        open_here = open_things.get(member.item_id, ())
        numbers.append(GroupNumber(member.item, member.demand_per_year, shelves, open_here))
    together = [(shelf.storeroom.code, shelf.pieces_together) for shelf in group.shelves.all()]
    return ShownGroup(group, numbers, together)


def _places(items: Iterable[Item]) -> dict[int, list[tuple[str, int, int, StockPolicy | None, int]]]:
    """By item its storerooms with stock or a policy: code, on hand, reserved, policy, id."""
    keys = [item.pk for item in items]
    codes: dict[Place, str] = {}
    on_hand: Counter[Place] = Counter()
    reserved: Counter[Place] = Counter()
    policies: dict[Place, StockPolicy] = {}
    for level in visible_to_caller(StockLevel.objects.filter(item__in=keys)).with_places().not_empty():
        place = (level.item_id, level.storeroom_id)
        codes[place] = level.storeroom.code
        on_hand[place] += level.on_hand
        reserved[place] += level.reserved
    for policy in visible_to_caller(StockPolicy.objects.filter(item__in=keys)).select_related("storeroom"):
        place = (policy.item_id, policy.storeroom_id)
        codes[place], policies[place] = policy.storeroom.code, policy
    found: dict[int, list[tuple[str, int, int, StockPolicy | None, int]]] = defaultdict(list)
    for place, code in sorted(codes.items(), key=lambda one: (one[0][0], one[1])):
        found[place[0]].append((code, on_hand[place], reserved[place], policies.get(place), place[1]))
    return found


def _open_things(items: Iterable[Item]) -> dict[int, tuple[tuple[str, int], ...]]:
    keys = [item.pk for item in items]
    kinds: tuple[tuple[str, QuerySet[Any]], ...] = (
        ("supply_orders", SupplyOrder.objects.open()),
        ("reservations", Reservation.objects.open()),
        ("counts", CountTask.objects.open()),
        ("fit_questions", FitQuestion.objects.filter(answered_at__isnull=True)),
    )
    found: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for kind, rows in kinds:
        own = visible_to_caller(rows.filter(item__in=keys)).order_by("item").values("item")
        for item, number in own.annotate(number=Count("pk")).values_list("item", "number"):
            found[item].append((kind, number))
    return {item: tuple(rows) for item, rows in found.items()}
