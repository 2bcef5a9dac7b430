"""Finds the groups of duplicates and works out what each costs to hold apart; what is found is stored for the list."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

import numpy as np
from django.db import transaction

from drives.demand.demand_events import load_demand_events
from drives.demand.pools import years_between
from drives.demand.record_start import RecordDays, load_set_starts
from drives.demand.request_matching import DemandEvent
from drives.demand.snapshot import end_of_day
from inventory.catalogue.duplicate_groups import FoundGroup, find_groups
from inventory.catalogue.plant_practice import current_demand_settings
from inventory.models import (
    DuplicateGroup,
    DuplicateMember,
    DuplicateShelf,
    HoldingReason,
    Importance,
    Item,
    PartKind,
    Recommendation,
    StockLevel,
    StockPolicy,
    TargetKind,
)
from inventory.planning.terms import START_SERVICE, load_targets, load_terms
from inventory.stocking.held_apart import NumbersHeld, held_apart
from inventory.stores.lead_times import LeadTimes, lead_times

AT_ONCE = 500
Place = tuple[int, int]
"""Item and storeroom."""
A_CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Price:
    unit_cost: Decimal | None
    currency: str
    holding_reason: str


@dataclass
class HeldItems:
    """All that is known of the items of some groups, by item or by item and storeroom."""

    prices: dict[int, Price] = field(default_factory=dict)
    on_hand: Counter[Place] = field(default_factory=Counter)
    policies: dict[Place, int] = field(default_factory=dict)
    recommended: dict[Place, int] = field(default_factory=dict)
    """Order-up-to; of a part that is pooled already, under the number to keep."""
    rates: Mapping[Place, tuple[float, float]] = field(default_factory=dict)
    """Pieces a year, and their squares a year."""

    def places(self, items: Iterable[int]) -> list[Place]:
        wanted = set(items)
        return sorted(
            key for key in {*self.on_hand, *self.policies, *self.recommended, *self.rates} if key[0] in wanted
        )


@dataclass(frozen=True)
class Shelf:
    """One number in one storeroom."""

    item_id: int
    storeroom_id: int
    rate_per_year: float
    squares_per_year: float
    lead_time_days: float
    lead_time_sd_days: float
    least: int
    on_hand: int


def find_duplicates(as_of: datetime) -> int:
    """Replace the stored groups by those of now; gives their number. Reads the catalogue and the demand once."""
    found = list(find_groups())
    events = load_demand_events(as_of) if found else ()
    rates = yearly_demand(events, {item for group in found for item in group.items}, as_of)
    leads = lead_times(as_of)
    with transaction.atomic():
        DuplicateShelf.objects.all().delete()
        DuplicateMember.objects.all().delete()
        DuplicateGroup.objects.all().delete()
        for start in range(0, len(found), AT_ONCE):
            _store(found[start : start + AT_ONCE], rates, leads, as_of)
    return len(found)


def yearly_demand(
    events: Sequence[DemandEvent], items: set[int], as_of: datetime
) -> dict[Place, tuple[float, float]]:
    """Since the record of each storeroom began, planned or not; per year."""
    kinds = dict(Item.objects.filter(pk__in=items).values_list("pk", "specification__kind")) if items else {}
    days = RecordDays(end_of_day(as_of), load_set_starts(), current_demand_settings())
    is_sprocket: dict[Place, bool] = {}
    for event in events:
        alike = event.item_id is None or kinds.get(event.item_id, PartKind.SPROCKET) == PartKind.SPROCKET
        days.add(event.storeroom_id, event, is_sprocket=alike)
        if event.item_id in items:
            is_sprocket[event.item_id, event.storeroom_id] = alike
    starts = {
        (room, kind): days.start(room, is_sprocket=kind).at
        for room, kind in {(room, kind) for (_, room), kind in is_sprocket.items()}
    }
    sums: dict[Place, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for event in events:
        key = (event.item_id or 0, event.storeroom_id)
        if key not in is_sprocket or event.at < starts[key[1], is_sprocket[key]]:
            continue
        years = years_between(starts[key[1], is_sprocket[key]], end_of_day(as_of))
        sums[key][0] += event.quantity / years
        sums[key][1] += event.quantity**2 / years
    return {key: (rate, squares) for key, (rate, squares) in sums.items()}


def _store(
    found: Sequence[FoundGroup], rates: Mapping[Place, tuple[float, float]], leads: LeadTimes, as_of: datetime
) -> None:
    items = [item for group in found for item in group.items]
    known = _load(items, rates)
    by_item: dict[int, list[Place]] = defaultdict(list)
    for place in known.places(items):
        by_item[place[0]].append(place)
    shelves = list(_shelves(found, by_item, known, leads))
    rows = [_row(group, own, known, as_of) for group, own in zip(found, shelves, strict=True)]
    DuplicateGroup.objects.bulk_create(rows)
    members = [
        DuplicateMember(
            group=row,
            item_id=item,
            demand_per_year=sum(rates.get(place, (0.0, 0.0))[0] for place in by_item[item]),
        )
        for group, row in zip(found, rows, strict=True)
        for item in group.items
    ]
    DuplicateMember.objects.bulk_create(members, batch_size=AT_ONCE)
    for own, row in zip(shelves, rows, strict=True):
        for shelf in own:
            shelf.group = row
    DuplicateShelf.objects.bulk_create([shelf for own in shelves for shelf in own], batch_size=AT_ONCE)


def _load(items: Sequence[int], rates: Mapping[Place, tuple[float, float]]) -> HeldItems:
    known, wanted = HeldItems(), set(items)
    known.rates = {place: rate for place, rate in rates.items() if place[0] in wanted}
    for start in range(0, len(items), AT_ONCE):
        part = items[start : start + AT_ONCE]
        columns = ("pk", "unit_cost", "currency", "holding_reason")
        for pk, *price in Item.objects.filter(pk__in=part).order_by().values_list(*columns):
            known.prices[pk] = Price(*price)
        levels = StockLevel.objects.filter(item__in=part).not_empty().order_by()
        for item, room, pieces in levels.values_list("item_id", "storeroom_id", "on_hand"):
            known.on_hand[item, room] += pieces
        policies = StockPolicy.objects.filter(item__in=part).order_by()
        for item, room, most in policies.values_list("item_id", "storeroom_id", "order_up_to"):
            known.policies[item, room] = most
        advised = Recommendation.objects.current().filter(item__in=part, is_answered=True).order_by()
        for item, room, most in advised.values_list("item_id", "storeroom_id", "order_up_to"):
            known.recommended[item, room] = most
    return known


def _shelves(
    found: Sequence[FoundGroup],
    by_item: Mapping[int, Sequence[Place]],
    known: HeldItems,
    leads: LeadTimes,
) -> Iterator[list[DuplicateShelf]]:
    """Of each group its storerooms, each with its numbers; all groups are worked out together."""
    shelves = [
        [_shelf(place, known, leads) for item in group.items for place in by_item[item]] for group in found
    ]
    pools: dict[tuple[int, int], int] = {}
    every = [
        (one, pools.setdefault((number, one.storeroom_id), len(pools)))
        for number, group in enumerate(shelves)
        for one in group
    ]
    held = NumbersHeld(
        pool=np.array([pool for _, pool in every], dtype=np.int64),
        rate_per_year=np.array([one.rate_per_year for one, _ in every]),
        squares_per_year=np.array([one.squares_per_year for one, _ in every]),
        lead_time_days=np.array([one.lead_time_days for one, _ in every]),
        lead_time_sd_days=np.array([one.lead_time_sd_days for one, _ in every]),
        least=np.array([one.least for one, _ in every], dtype=np.int64),
    )
    answer = held_apart(held, fill_rate=target_fill_rate())
    by_pool: dict[int, list[tuple[Shelf, int]]] = defaultdict(list)
    for (one, pool), apart in zip(every, answer.apart.tolist(), strict=True):
        by_pool[pool].append((one, apart))
    of_group: dict[int, list[DuplicateShelf]] = defaultdict(list)
    for (number, room), pool in pools.items():
        of_group[number].append(
            DuplicateShelf(
                storeroom_id=room,
                pieces_together=int(answer.together[pool]),
                numbers=[_as_json(one, apart) for one, apart in by_pool[pool]],
            )
        )
    yield from (of_group[number] for number in range(len(found)))


def _shelf(place: Place, known: HeldItems, leads: LeadTimes) -> Shelf:
    item, room = place
    rate, squares = known.rates.get(place, (0.0, 0.0))
    lead = leads.of(item, room)
    return Shelf(
        item_id=item,
        storeroom_id=room,
        rate_per_year=rate,
        squares_per_year=squares,
        lead_time_days=lead.mean_days if lead else 0.0,
        lead_time_sd_days=lead.sd_days if lead else 0.0,
        least=_least(place, known, has_demand=rate > 0),
        on_hand=known.on_hand[place],
    )


def _least(place: Place, known: HeldItems, *, has_demand: bool) -> int:
    """What the last run recommends, which knows the importance of the part and what else could serve.

    Where it has no answer, the policy says what is kept of what was never needed; an insurance spare is kept without one.
    """
    if place in known.recommended:
        return known.recommended[place]
    if has_demand:
        return 0
    is_insured = known.prices[place[0]].holding_reason == HoldingReason.INSURANCE
    return max(known.policies.get(place, 0), int(is_insured and known.on_hand[place] > 0))


def _as_json(shelf: Shelf, apart: int) -> dict[str, Any]:
    return {
        "item": shelf.item_id,
        "demand_per_year": shelf.rate_per_year,
        "lead_time_days": shelf.lead_time_days,
        "on_hand": shelf.on_hand,
        "pieces": apart,
    }


def _row(
    group: FoundGroup, shelves: Sequence[DuplicateShelf], known: HeldItems, as_of: datetime
) -> DuplicateGroup:
    prices = [known.prices[item] for item in group.items]
    currencies = {one.currency for one in prices}
    has_money = len(currencies) == 1 and all(one.unit_cost is not None for one in prices)
    holding = Decimal(str(load_terms().holding_rate_per_year))
    beyond = [_beyond(shelf, known) for shelf in shelves] if has_money else []
    yearly = (sum((most for _, most in beyond), Decimal(0)) * holding).quantize(A_CENT)
    excess = sum((lying for lying, _ in beyond), Decimal(0)).quantize(A_CENT)
    return DuplicateGroup(
        likeness=group.likeness,
        yearly_cost=yearly if has_money else None,
        excess_value=excess if has_money else None,
        worth=float(yearly),
        currency=min(currencies),
        pieces_apart=sum(one["pieces"] for shelf in shelves for one in shelf.numbers),
        pieces_together=sum(shelf.pieces_together for shelf in shelves),
        differences=[one.as_json() for one in group.differences],
        found_at=as_of,
    )


def _beyond(shelf: DuplicateShelf, known: HeldItems) -> tuple[Decimal, Decimal]:
    """Value beyond the common stock: of what lies there, and of the more of that and what is kept apart.

    At the mean price of what lies there; where nothing does, at the lowest.
    """
    costs = [(one["on_hand"], known.prices[one["item"]].unit_cost or Decimal(0)) for one in shelf.numbers]
    on_hand = sum(pieces for pieces, _ in costs)
    worth = sum((pieces * cost for pieces, cost in costs), Decimal(0))
    price = worth / on_hand if on_hand else min((cost for _, cost in costs), default=Decimal(0))
    apart = sum(one["pieces"] for one in shelf.numbers)
    lying, most = (max(pieces - shelf.pieces_together, 0) for pieces in (on_hand, max(on_hand, apart)))
    return lying * price, most * price


def target_fill_rate() -> float:
    """That of parts whose importance is not known; a target of another kind is no fill rate, so the shipped one stands for it."""
    target = load_targets()[Importance.UNKNOWN]
    return target.value if target.kind == TargetKind.FILL_RATE else START_SERVICE[Importance.UNKNOWN]
