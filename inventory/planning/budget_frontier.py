"""What to buy next for a budget, what downtime that leaves, and how today's stock compares with the best for its money."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from decimal import Decimal
from itertools import islice

import numpy as np

from inventory.facts import Fact, fact
from inventory.models import Item
from inventory.planning.budget_plan import BuyOption, BuyStep, plan_buys
from inventory.planning.downtime_hours import HOURS_PER_YEAR, NearbyStock, downtime_hours
from inventory.planning.policy_inputs import (
    DriveShare,
    Need,
    PolicyInputs,
    RecommendationInput,
    load_policy_inputs,
)
from inventory.planning.recorded_waits import RecordedWaits, added_up, against_record
from inventory.planning.shelf_demand import ShelfDemand, cannot_be_calculated, money, shelf_demand
from inventory.planning.stock_position import (
    StockPosition,
    StockPositions,
    load_stock_positions,
    not_available,
)
from inventory.planning.stocking_decision import break_even, not_bought
from inventory.progress import Progress, counted, stretches, unreported
from inventory.stores.lead_times import EmergencyTimes, LeadTimes
from inventory.stores.reach import Way, transfer_minutes

MOST_BUYS = 2_000
"""Buys listed at most."""

MOST_POINTS = 200
"""Points of the curve at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """Money spent, and the downtime that is then still expected of all parts together."""

    spend: Decimal
    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontierBuy(Point):
    """`pieces` more of one item in one storeroom."""

    item_id: int
    stock_number: str
    storeroom_id: int
    pieces: int
    stock_after: int
    unit_cost: Decimal
    break_even: tuple[Fact, ...] = ()
    """Of the first spare, as its recommendation has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLeftOut:
    """What cannot be weighed, and why."""

    item_id: int
    stock_number: str
    storeroom_id: int
    reason: Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDowntime:
    """The downtime of one position for lack of one part, with today's stock."""

    position: str

    item_id: int
    stock_number: str
    storeroom_id: int
    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal
    is_priced: bool
    """False: the drive has no price of its own, and counts with the mean of the other drives of this part."""
    stock: int
    """On hand and on order, less what is reserved; of chain in jobs."""
    stops_per_year: float
    hours_to_expedite: float | None
    """From a stop without stock to an emergency delivery; None: it waits for an ordinary one."""
    cost_of_recorded_stops: Decimal
    """What the stops on record would cost a year with today's stock; the rest is for stops that may come first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveDowntime:
    """The downtime of one drive for lack of parts, with today's stock; `parts` add up to it, the drives to `today`."""

    drive: str
    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal
    cost_of_recorded_stops: Decimal
    parts: tuple[PartDowntime, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockValue:
    """At the unit cost of each item: on_shelves - on_hold - reserved + on_order = weighed + left_out."""

    on_shelves: Decimal
    """All that the ledger holds, whatever its condition."""
    on_hold: Decimal
    reserved: Decimal
    on_order: Decimal
    weighed: Decimal
    """Of the parts that this budget weighs, without the chain that serves no job."""
    left_out: Decimal
    items_without_value: int
    """In stock or on order, without a price in this currency: their value is in none of the sums."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frontier:
    currency: str
    budget: Decimal
    buys: tuple[FrontierBuy, ...]
    further_buys: int
    """Would follow within the budget, and are not listed."""
    after_buys: Point
    """With all that are listed."""
    today: Point
    """The value of the stock on hand and on order, and the downtime with it."""
    best_for_the_same_money: Point
    curve: tuple[Point, ...]
    """From no stock to what today's stock and the budget together would buy."""
    by_drive: tuple[DriveDowntime, ...]
    """With today's stock, the most expensive first."""
    stock_value: StockValue
    left_out: tuple[PartLeftOut, ...]
    method: tuple[Fact, ...]
    recorded: RecordedWaits | None = None
    """What the same kind of downtime cost while the record ran."""


@dataclass(frozen=True)
class _Weighed:
    given: RecommendationInput
    demand: ShelfDemand
    option: BuyOption
    useless: Decimal = Decimal(0)
    """Value of the links of chain that serve no job."""


def frontier(
    needs: Sequence[Need],
    *,
    lead_times: LeadTimes,
    emergencies: EmergencyTimes | None,
    budget: Decimal,
    today: date,
    storerooms: Collection[int] | None = None,
    recorded: Mapping[str, RecordedWaits] | None = None,
    progress: Progress = unreported,
) -> Frontier:
    """Purchases by downtime avoided per unit of money, starting from the stock on hand and on order.

    `storerooms` are those whose stock is counted; None: all. `recorded` are the waits of each position.
    """
    inputs = load_policy_inputs(needs, lead_times=lead_times, emergencies=emergencies)
    positions = load_stock_positions(today)
    shelves = _Shelves(positions, transfer_minutes(), storerooms)
    weighed, left_out = _weigh_all(needs, inputs, shelves, progress)
    options = [one.option for one in weighed]
    planned = plan_buys(options, budget)
    buys = [_buy(weighed[step.option], step) for step in islice(planned, MOST_BUYS)]
    empty = [replace(option, start=0) for option in options]
    worth = sum((max(option.start, 0) * option.price for option in options), Decimal(0))
    # One pass over an iterator: the value of today's stock lies on the way to the end of the curve.
    curve = [_nothing_bought(empty), *map(_point, plan_buys(empty, worth + budget))]
    by_drive, waits = _by_drive(weighed), added_up((recorded or {}).values())
    now = _nothing_bought(options)
    return Frontier(
        currency=inputs.terms.currency,
        budget=budget,
        buys=tuple(buys),
        further_buys=sum(1 for _ in planned),
        after_buys=_point_with(buys) if buys else now,
        today=replace(now, spend=worth),
        best_for_the_same_money=[point for point in curve if point.spend <= worth][-1],
        curve=_thinned(curve),
        by_drive=by_drive,
        stock_value=_stock_value(weighed, positions, inputs.terms.currency, storerooms),
        left_out=left_out,
        method=(*_method(weighed), *_against_record(by_drive, waits, inputs.terms.currency)),
        recorded=waits,
    )


def downtime_by_drive(
    needs: Sequence[Need],
    *,
    lead_times: LeadTimes,
    emergencies: EmergencyTimes | None,
    today: date,
    storerooms: Collection[int] | None = None,
    progress: Progress = unreported,
) -> tuple[DriveDowntime, ...]:
    """As the budget has it."""
    inputs = load_policy_inputs(needs, lead_times=lead_times, emergencies=emergencies)
    shelves = _Shelves(load_stock_positions(today), transfer_minutes(), storerooms)
    return _by_drive(_weigh_all(needs, inputs, shelves, progress)[0])


@dataclass(frozen=True)
class _Shelves:
    """Stock of the storerooms that count, and the ways between them."""

    positions: StockPositions
    minutes: Mapping[Way, int]
    storerooms: Collection[int] | None

    def of(self, need: Need, rooms: Iterable[int] | None = None) -> StockPosition:
        every = need.storeroom_ids if rooms is None else rooms
        seen = [room for room in every if self.storerooms is None or room in self.storerooms]
        links = need.chain.links_per_job if need.chain else 1
        return self.positions.of({*need.member_ids, need.item_id}, seen, links_per_job=links)

    def nearby(self, one: _Weighed, others: Iterable[RecommendationInput]) -> Iterable[NearbyStock]:
        """What lies within reach of a storeroom that does not share it."""
        home, links = one.given.need.storeroom_id, one.given.links_per_job
        for other in others:
            if other.need.storeroom_id == home:
                continue
            ways = [room for room in other.need.storeroom_ids if (room, home) in self.minutes]
            there = self.of(other.need, ways)
            pieces = max(there.on_hand - there.reserved - there.serves_no_job, 0) // links
            if pieces:
                minutes = min(self.minutes[room, home] for room in ways)
                found = shelf_demand(other)
                yield NearbyStock(pieces, minutes, found.law if found else None)


def _weigh_all(
    needs: Sequence[Need], inputs: PolicyInputs, shelves: _Shelves, progress: Progress
) -> tuple[list[_Weighed], tuple[PartLeftOut, ...]]:
    weighed, left_out = [], []
    alone, together = stretches(progress, 3, 1)
    of_part: dict[tuple[int, ...], list[RecommendationInput]] = defaultdict(list)
    for need in counted(needs, alone):
        given = inputs.of(need)
        if need.is_kept_here:
            of_part[need.member_ids].append(given)
        found = _weigh(given, inputs.terms.currency, shelves)
        if isinstance(found, _Weighed):
            weighed.append(found)
        else:
            number = given.item.stock_number
            left_out.append(
                PartLeftOut(
                    item_id=need.item_id, stock_number=number, storeroom_id=need.storeroom_id, reason=found
                )
            )
    near = [
        _with_nearby(one, shelves, of_part[one.given.need.member_ids]) for one in counted(weighed, together)
    ]
    return near, tuple(left_out)


def _with_nearby(one: _Weighed, shelves: _Shelves, everywhere: Sequence[RecommendationInput]) -> _Weighed:
    nearby = list(shelves.nearby(one, everywhere)) if len(everywhere) > 1 else []
    if not nearby:
        return one
    return replace(one, option=replace(one.option, hours=downtime_hours(one.given, one.demand, nearby)))


def _weigh(given: RecommendationInput, currency: str, shelves: _Shelves) -> _Weighed | Fact:
    need, price = given.need, given.price
    reason = not_bought(given) or _not_known(given, currency)
    if reason:
        return reason
    try:
        demand = shelf_demand(given)
    except (ValueError, OverflowError) as error:
        return cannot_be_calculated(error)
    assert demand is not None
    assert price is not None
    assert need.downtime is not None
    if demand.rate_per_year <= 0:
        return fact("no_demand_for_stock")
    links = given.links_per_job
    stock = shelves.of(need)
    option = BuyOption(
        price=price,
        cost_per_hour=float(need.downtime.cost_per_hour),
        hours=downtime_hours(given, demand),
        start=stock.inventory_position // links,
        lot=max(1, round(demand.pieces_per_job)),
    )
    return _Weighed(given, demand, option, useless=stock.serves_no_job * price / links)


def _not_known(given: RecommendationInput, currency: str) -> Fact | None:
    """A price or a downtime cost that is not known is never a silent 0."""
    if given.need.demand is None:
        return fact("no_unplanned_demand")
    if given.price is None:
        return fact("price_not_known")
    if given.item.currency != currency:
        return fact("price_in_other_currency", currency=given.item.currency, budget_currency=currency)
    if given.downtime_per_hour is None:
        return fact("downtime_cost_not_known", currency=currency)
    return None if given.lead_time else fact("lead_time_not_known")


def _buy(weighed: _Weighed, step: BuyStep) -> FrontierBuy:
    given, option = weighed.given, weighed.option
    return FrontierBuy(
        item_id=given.need.item_id,
        stock_number=given.item.stock_number,
        storeroom_id=given.need.storeroom_id,
        pieces=step.pieces * given.links_per_job,
        stock_after=step.stock * given.links_per_job,
        unit_cost=option.price / given.links_per_job,
        break_even=break_even(given, weighed.demand) if step.stock == step.pieces else (),
        **asdict(_point(step)),
    )


def _point(step: BuyStep) -> Point:
    return Point(
        spend=step.spend,
        downtime_hours_per_year=step.hours_left,
        downtime_cost_per_year=money(step.cost_left),
    )


def _point_with(buys: Sequence[FrontierBuy]) -> Point:
    return Point(**{one.name: getattr(buys[-1], one.name) for one in fields(Point)})


def _nothing_bought(options: Iterable[BuyOption]) -> Point:
    known = [(float(option.hours[option.first]), option.cost_per_hour) for option in options]
    return Point(
        spend=Decimal(0),
        downtime_hours_per_year=sum(hours for hours, _ in known),
        downtime_cost_per_year=money(sum(hours * per_hour for hours, per_hour in known)),
    )


def _by_drive(weighed: Iterable[_Weighed]) -> tuple[DriveDowntime, ...]:
    rows: dict[str, list[PartDowntime]] = defaultdict(list)
    for one in weighed:
        for share in one.given.need.downtime.drives if one.given.need.downtime else ():
            rows[share.drive].append(_of_drive(one, share))
    found = [
        DriveDowntime(
            drive=drive,
            downtime_hours_per_year=sum(part.downtime_hours_per_year for part in parts),
            downtime_cost_per_year=_sum(part.downtime_cost_per_year for part in parts),
            cost_of_recorded_stops=_sum(part.cost_of_recorded_stops for part in parts),
            parts=tuple(sorted(parts, key=lambda part: (-part.downtime_cost_per_year, part.stock_number))),
        )
        for drive, parts in rows.items()
    ]
    return tuple(sorted(found, key=lambda row: (-row.downtime_cost_per_year, row.drive)))


def _of_drive(one: _Weighed, share: DriveShare) -> PartDowntime:
    need, option, downtime = one.given.need, one.option, one.given.need.downtime
    assert downtime is not None
    hours = float(option.hours[option.first]) * share.share / downtime.stop_share
    per_hour = downtime.cost_per_hour if share.cost_per_hour is None else share.cost_per_hour
    stops = one.demand.rate_per_year / one.demand.pieces_per_job * share.share
    return PartDowntime(
        position=share.position,
        item_id=need.item_id,
        stock_number=one.given.item.stock_number,
        storeroom_id=need.storeroom_id,
        downtime_hours_per_year=hours,
        downtime_cost_per_year=money(hours * float(per_hour)),
        is_priced=share.cost_per_hour is not None,
        stock=max(option.start, 0),
        stops_per_year=stops,
        hours_to_expedite=one.given.hours_to_expedite,
        cost_of_recorded_stops=money(hours * float(per_hour) * share.recorded_per_year / stops),
    )


def _stock_value(
    weighed: Iterable[_Weighed], positions: StockPositions, currency: str, storerooms: Collection[int] | None
) -> StockValue:
    prices = {
        item: price or Decimal(0)
        for item, price in Item.objects.filter(currency=currency).values_list("pk", "unit_cost")
    }
    counted = {
        key: position
        for key, position in positions.by_storeroom.items()
        if storerooms is None or key[1] in storerooms
    }
    available, reserved, on_order = (
        sum((getattr(one, name) * prices.get(item, 0) for (item, _), one in counted.items()), Decimal(0))
        for name in ("on_hand", "reserved", "on_order")
    )
    on_hold = sum((pieces * prices.get(item, 0) for item, pieces in not_available(storerooms)), Decimal(0))
    keys = {
        (item, room)
        for one in weighed
        for room in one.given.need.storeroom_ids
        for item in one.given.need.member_ids
    }
    of_weighed = sum(
        (one.inventory_position * prices.get(key[0], 0) for key, one in counted.items() if key in keys),
        Decimal(0),
    ) - sum(
        (one.useless for one in weighed if storerooms is None or one.given.need.storeroom_id in storerooms),
        Decimal(0),
    )
    return StockValue(
        on_shelves=money(available + on_hold),
        on_hold=money(on_hold),
        reserved=money(reserved),
        on_order=money(on_order),
        weighed=money(of_weighed),
        left_out=money(available - reserved + on_order - of_weighed),
        items_without_value=len(
            {item for (item, _), one in counted.items() if one.is_valued and not prices.get(item)}
        ),
    )


def _thinned(points: Sequence[Point]) -> tuple[Point, ...]:
    """Both ends, and points in between at equal steps."""
    if len(points) <= MOST_POINTS:
        return tuple(points)
    steps = np.linspace(0, len(points) - 1, MOST_POINTS).round().astype(int)
    return tuple(points[int(step)] for step in steps)


def _method(weighed: Sequence[_Weighed]) -> Iterable[Fact]:
    yield fact("bought_by_downtime_avoided")
    yield fact("downtime_of_the_drives_that_stop")
    if any(one.option.lot * one.given.links_per_job > 1 for one in weighed):
        yield fact("bought_by_the_job")
    if any(one.useless for one in weighed):
        yield fact("short_chain_not_counted")
    yield fact("storerooms_weighed_by_reach")
    expedited = sum(one.given.hours_to_expedite is not None for one in weighed)
    if expedited:
        yield fact("shortage_waits_for_emergency_order", parts=expedited)
    if expedited < len(weighed):
        waiting = len(weighed) - expedited
        yield fact("shortage_waits_for_ordinary_order", parts=waiting, hours_per_year=HOURS_PER_YEAR)


def _against_record(
    by_drive: Iterable[DriveDowntime], recorded: RecordedWaits | None, currency: str
) -> tuple[Fact, ...]:
    parts = [part for row in by_drive for part in row.parts]
    return against_record(
        recorded,
        cost=_sum(part.downtime_cost_per_year for part in parts),
        of_recorded_stops=_sum(part.cost_of_recorded_stops for part in parts),
        without_stock=_sum(part.downtime_cost_per_year for part in parts if not part.stock),
        currency=currency,
    )


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
