"""What to buy next for a budget, what downtime that leaves, and where the plant stands against the best for its money."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import islice

import numpy as np

from inventory.array_checks import FloatArray
from inventory.planning.case import Asked, Case, asked_of
from inventory.planning.facts import Emergencies, LeadTimes
from inventory.planning.need import Need
from inventory.planning.spending import Option, Step, spend
from inventory.planning.standing import Standings, load_standings
from inventory.planning.stock_at_all import LIFECYCLE_WORDS
from inventory.planning.words import money
from inventory.planning.world import World, load_world
from inventory.stocking.service_levels import ServiceProfile

HOURS_PER_YEAR = 8760.0
"""A year of this service. Source: the API contract."""

MOST_BUYS = 2_000
"""Buys listed at most."""

MOST_POINTS = 200
"""Points of the curve at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontierBuy:
    """`pieces` more of one item in one storeroom, and what is then still expected of all of them together."""

    item_id: int
    stock_number: str
    storeroom_id: int
    pieces: int
    stock_after: int
    unit_cost: Decimal
    spend: Decimal
    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    spend: Decimal
    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """What cannot be weighed, with what is missing."""

    item_id: int
    stock_number: str
    storeroom_id: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Frontier:
    currency: str
    budget: Decimal
    buys: tuple[FrontierBuy, ...]
    is_cut: bool
    """More buys would follow within the budget."""
    today: Point
    """What the stock on hand and on order is worth, and the downtime with it."""
    best_for_the_same_money: Point
    curve: tuple[Point, ...]
    """From an empty shelf to what today's stock and the budget together would buy."""
    left_out: tuple[LeftOut, ...]
    method: tuple[str, ...]


@dataclass(frozen=True)
class _Weighed:
    case: Case
    option: Option
    is_expedited: bool


def frontier(
    needs: Sequence[Need],
    *,
    lead_times: LeadTimes,
    emergencies: Emergencies | None,
    budget: Decimal,
    today: date,
) -> Frontier:
    """Buys by downtime avoided per unit of money, from the stock that is there and coming."""
    world = load_world(needs, lead_times=lead_times, emergencies=emergencies)
    weighed, left_out = _sorted_out(needs, world, load_standings(today))
    options = [one.option for one in weighed]
    steps = list(islice(spend(options, budget), MOST_BUYS + 1))
    empty = [replace(option, start=0) for option in options]
    worth = sum((max(option.start, 0) * option.price for option in options), Decimal(0))
    # The list is walked once: the money of today's stock is passed on the way to the end of the curve.
    curve = [_nothing_bought(empty), *map(_point, spend(empty, worth + budget))]
    return Frontier(
        currency=world.terms.currency,
        budget=budget,
        buys=tuple(_buy(weighed[step.option], step) for step in steps[:MOST_BUYS]),
        is_cut=len(steps) > MOST_BUYS,
        today=replace(_nothing_bought(options), spend=worth),
        best_for_the_same_money=[point for point in curve if point.spend <= worth][-1],
        curve=_thinned(curve),
        left_out=left_out,
        method=tuple(_method(weighed)),
    )


def _sorted_out(
    needs: Sequence[Need], world: World, standings: Standings
) -> tuple[list[_Weighed], tuple[LeftOut, ...]]:
    weighed, left_out = [], []
    for need in needs:
        case = world.case_of(need)
        found = _weigh(case, world.terms.currency, standings)
        if isinstance(found, _Weighed):
            weighed.append(found)
        else:
            left_out.append(
                LeftOut(
                    item_id=need.item_id,
                    stock_number=case.facts.stock_number,
                    storeroom_id=need.storeroom_id,
                    reason=found,
                )
            )
    return weighed, tuple(left_out)


def _weigh(case: Case, currency: str, standings: Standings) -> _Weighed | str:
    reason = _not_bought(case) or _not_known(case, currency)
    if reason:
        return reason
    try:
        asked = asked_of(case)
    except (ValueError, OverflowError) as error:
        return f"It cannot be worked out: {str(error).replace('`', '')}."
    assert asked is not None
    if asked.rate_per_year <= 0:
        return "Nothing is expected to be asked for from the shelf."
    need, price, per_hour = case.need, case.facts.price, case.downtime_per_hour
    assert price is not None
    assert per_hour is not None
    option = Option(
        price=price,
        cost_per_hour=float(per_hour),
        hours=_downtime_hours(asked, case.hours_to_expedite),
        start=standings.of({*need.member_ids, need.item_id}, need.storeroom_id).position,
        lot=max(1, round(asked.pieces_per_job)),
    )
    return _Weighed(case, option, case.hours_to_expedite is not None)


def _not_bought(case: Case) -> str:
    if case.need.kept_as_id is not None:
        return f"The same part is kept as {case.kept_as or case.need.kept_as_id}."
    if case.facts.lifecycle in LIFECYCLE_WORDS:
        return f"It {LIFECYCLE_WORDS[case.facts.lifecycle]}."  # type: ignore[index]
    return "Nothing was ever asked for and no position could ask." if case.need.demand is None else ""


def _not_known(case: Case, currency: str) -> str:
    """A price or a downtime that is not known is never a silent 0."""
    if case.facts.price is None:
        return "Its price is not known: enter unit_cost."
    if case.facts.currency != currency:
        return f"Its price is in {case.facts.currency}, the budget in {currency}."
    if case.downtime_per_hour is None:
        return (
            f"What its absence costs is not known: enter downtime_cost_per_hour of its drives, in {currency}."
        )
    return "" if case.lead_time else "Its lead time is not known: enter lead_time_days."


def _downtime_hours(asked: Asked, hours_to_expedite: float | None) -> FloatArray:
    """Hours a year for stocks 0, 1, 2, …: each job that is short, until an emergency or an ordinary delivery."""
    if hours_to_expedite is not None:
        unfilled = ServiceProfile(asked.law, 1, asked.sizes).unfilled
        return np.asarray(asked.rate_per_year * unfilled * hours_to_expedite / asked.pieces_per_job)
    waiting = asked.law.expected_above_each(len(asked.law)) / asked.pieces_per_job
    return np.asarray(waiting * HOURS_PER_YEAR)


def _buy(weighed: _Weighed, step: Step) -> FrontierBuy:
    case, option = weighed.case, weighed.option
    return FrontierBuy(
        item_id=case.need.item_id,
        stock_number=case.facts.stock_number,
        storeroom_id=case.need.storeroom_id,
        pieces=step.pieces,
        stock_after=step.stock,
        unit_cost=option.price,
        spend=step.spend,
        downtime_hours_per_year=step.hours_left,
        downtime_cost_per_year=money(step.cost_left),
    )


def _point(step: Step) -> Point:
    return Point(
        spend=step.spend,
        downtime_hours_per_year=step.hours_left,
        downtime_cost_per_year=money(step.cost_left),
    )


def _nothing_bought(options: Iterable[Option]) -> Point:
    known = [(float(option.hours[option.first]), option.cost_per_hour) for option in options]
    return Point(
        spend=Decimal(0),
        downtime_hours_per_year=sum(hours for hours, _ in known),
        downtime_cost_per_year=money(sum(hours * per_hour for hours, per_hour in known)),
    )


def _thinned(points: Sequence[Point]) -> tuple[Point, ...]:
    """Both ends, and what lies between in equal strides."""
    if len(points) <= MOST_POINTS:
        return tuple(points)
    places = np.linspace(0, len(points) - 1, MOST_POINTS).round().astype(int)
    return tuple(points[int(place)] for place in places)


def _method(weighed: Sequence[_Weighed]) -> Iterable[str]:
    yield "Buys follow the downtime cost that they avoid per unit of money, pieces kept one for one."
    if any(one.option.lot > 1 for one in weighed):
        yield "What a job takes several of is bought by the job, and stops its drive once."
    yield (
        "Each storeroom is taken by itself with its own demand and lead time: it is not recorded that one"
        " resupplies another, so no stock of a central store is shared out."
    )
    expedited = sum(one.is_expedited for one in weighed)
    if expedited:
        yield (
            f"Of {expedited} parts a missing piece costs the hours to an emergency delivery,"
            " times the cost of an hour of downtime."
        )
    if expedited < len(weighed):
        yield (
            f"Of {len(weighed) - expedited} parts no hours to an emergency delivery are known: each piece waited"
            f" for costs downtime until its ordinary order comes, all {HOURS_PER_YEAR:,.0f} hours of a year."
        )
