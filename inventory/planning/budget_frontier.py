"""What to buy next for a budget, what downtime that leaves, and how today's stock compares with the best for its money."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import islice

import numpy as np

from inventory.array_checks import FloatArray
from inventory.facts import Fact, fact
from inventory.models import Item
from inventory.planning.budget_plan import BuyOption, BuyStep, plan_buys
from inventory.planning.policy_inputs import (
    DriveShare,
    Need,
    PolicyInputs,
    RecommendationInput,
    load_policy_inputs,
)
from inventory.planning.shelf_demand import ShelfDemand, cannot_be_calculated, money, shelf_demand
from inventory.planning.stock_position import StockPositions, load_stock_positions, not_available
from inventory.planning.stocking_decision import not_bought
from inventory.stocking.service_levels import ServiceProfile
from inventory.stores.lead_times import EmergencyTimes, LeadTimes

HOURS_PER_YEAR = 8760.0
"""A year of this service. Source: the API contract."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLeftOut:
    """What cannot be weighed, and why."""

    item_id: int
    stock_number: str
    storeroom_id: int
    reason: Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDowntime:
    """The downtime of one drive for lack of one part, with today's stock."""

    item_id: int
    stock_number: str
    storeroom_id: int
    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal
    is_priced: bool
    """False: the drive has no price of its own, and counts with the mean of the other drives of this part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveDowntime:
    """The downtime of one drive for lack of parts, with today's stock; `parts` add up to it, the drives to `today`."""

    drive: str
    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal
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
    is_cut: bool
    """More buys would follow within the budget."""
    today: Point
    """The value of the stock on hand and on order, and the downtime with it."""
    best_for_the_same_money: Point
    curve: tuple[Point, ...]
    """From no stock to what today's stock and the budget together would buy."""
    by_drive: tuple[DriveDowntime, ...]
    """With today's stock, the dearest first."""
    stock_value: StockValue
    left_out: tuple[PartLeftOut, ...]
    method: tuple[Fact, ...]


@dataclass(frozen=True)
class _Weighed:
    given: RecommendationInput
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
) -> Frontier:
    """Purchases by downtime avoided per unit of money, starting from the stock on hand and on order.

    `storerooms` are those whose stock is counted; None: all.
    """
    inputs = load_policy_inputs(needs, lead_times=lead_times, emergencies=emergencies)
    positions = load_stock_positions(today)
    weighed, left_out = _weigh_all(needs, inputs, positions)
    options = [one.option for one in weighed]
    steps = list(islice(plan_buys(options, budget), MOST_BUYS + 1))
    empty = [replace(option, start=0) for option in options]
    worth = sum((max(option.start, 0) * option.price for option in options), Decimal(0))
    # One pass over an iterator: the value of today's stock lies on the way to the end of the curve.
    curve = [_nothing_bought(empty), *map(_point, plan_buys(empty, worth + budget))]
    return Frontier(
        currency=inputs.terms.currency,
        budget=budget,
        buys=tuple(_buy(weighed[step.option], step) for step in steps[:MOST_BUYS]),
        is_cut=len(steps) > MOST_BUYS,
        today=replace(_nothing_bought(options), spend=worth),
        best_for_the_same_money=[point for point in curve if point.spend <= worth][-1],
        curve=_thinned(curve),
        by_drive=_by_drive(weighed),
        stock_value=_stock_value(weighed, positions, inputs.terms.currency, storerooms),
        left_out=left_out,
        method=tuple(_method(weighed)),
    )


def _weigh_all(
    needs: Sequence[Need], inputs: PolicyInputs, positions: StockPositions
) -> tuple[list[_Weighed], tuple[PartLeftOut, ...]]:
    weighed, left_out = [], []
    for need in needs:
        given = inputs.of(need)
        found = _weigh(given, inputs.terms.currency, positions)
        if isinstance(found, _Weighed):
            weighed.append(found)
        else:
            number = given.item.stock_number
            left_out.append(
                PartLeftOut(
                    item_id=need.item_id, stock_number=number, storeroom_id=need.storeroom_id, reason=found
                )
            )
    return weighed, tuple(left_out)


def _weigh(given: RecommendationInput, currency: str, positions: StockPositions) -> _Weighed | Fact:
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
    stock = positions.of({*need.member_ids, need.item_id}, need.storeroom_id, links_per_job=links)
    option = BuyOption(
        price=price,
        cost_per_hour=float(need.downtime.cost_per_hour),
        hours=_downtime_hours(demand, given.hours_to_expedite) * need.downtime.stop_share,
        start=stock.inventory_position // links,
        lot=max(1, round(demand.pieces_per_job)),
    )
    return _Weighed(given, option, useless=stock.serves_no_job * price / links)


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


def _downtime_hours(demand: ShelfDemand, hours_to_expedite: float | None) -> FloatArray:
    """Hours a year for stocks of 0, 1, 2, …: each job that is short waits for an emergency or an ordinary delivery."""
    if hours_to_expedite is not None:
        unfilled = ServiceProfile(demand.law, 1, demand.sizes).unfilled
        return np.asarray(demand.rate_per_year * unfilled * hours_to_expedite / demand.pieces_per_job)
    waiting = demand.law.expected_above_each(len(demand.law)) / demand.pieces_per_job
    return np.asarray(waiting * HOURS_PER_YEAR)


def _buy(weighed: _Weighed, step: BuyStep) -> FrontierBuy:
    given, option = weighed.given, weighed.option
    return FrontierBuy(
        item_id=given.need.item_id,
        stock_number=given.item.stock_number,
        storeroom_id=given.need.storeroom_id,
        pieces=step.pieces * given.links_per_job,
        stock_after=step.stock * given.links_per_job,
        unit_cost=option.price / given.links_per_job,
        **asdict(_point(step)),
    )


def _point(step: BuyStep) -> Point:
    return Point(
        spend=step.spend,
        downtime_hours_per_year=step.hours_left,
        downtime_cost_per_year=money(step.cost_left),
    )


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
            downtime_cost_per_year=sum((part.downtime_cost_per_year for part in parts), Decimal(0)),
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
    return PartDowntime(
        item_id=need.item_id,
        stock_number=one.given.item.stock_number,
        storeroom_id=need.storeroom_id,
        downtime_hours_per_year=hours,
        downtime_cost_per_year=money(hours * float(per_hour)),
        is_priced=share.cost_per_hour is not None,
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
    keys = {(item, one.given.need.storeroom_id) for one in weighed for item in one.given.need.member_ids}
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
    yield fact("storerooms_weighed_apart")
    expedited = sum(one.given.hours_to_expedite is not None for one in weighed)
    if expedited:
        yield fact("shortage_waits_for_emergency_order", parts=expedited)
    if expedited < len(weighed):
        waiting = len(weighed) - expedited
        yield fact("shortage_waits_for_ordinary_order", parts=waiting, hours_per_year=HOURS_PER_YEAR)
