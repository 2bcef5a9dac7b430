"""Hours of downtime a year for lack of a part, by pieces kept, with what other storerooms within reach hold."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from inventory.array_checks import FloatArray
from inventory.planning.policy_inputs import RecommendationInput
from inventory.planning.shelf_demand import ShelfDemand
from inventory.stocking.lead_time_demand import LeadTimeDemand, convolve
from inventory.stocking.least_cost import erlang_losses
from inventory.stocking.service_levels import ServiceProfile

HOURS_PER_YEAR = 8760.0
"""A year of this service. Source: the API contract."""


@dataclass(frozen=True, slots=True, eq=False)
class NearbyStock:
    """Pieces that another storeroom can give away, the minutes from there, and the demand over a lead time that it has itself."""

    pieces: int
    minutes: int
    law: LeadTimeDemand | None = None


def downtime_hours(
    given: RecommendationInput, demand: ShelfDemand, nearby: Iterable[NearbyStock] = ()
) -> FloatArray:
    """For stocks of 0, 1, 2, …: each job that is short waits for a piece from nearby, else for an emergency or ordinary delivery.

    Storerooms that share the stock fetch each piece. A piece nearby serves both storerooms: what both together lack waits for
    the delivery, as in full pooling. Source: Lee 1987, Management Science 33.
    """
    need = given.need
    assert need.downtime is not None
    unfilled = _unfilled(given, demand, demand.law)
    hours = _until_delivered(given, demand, demand.law, len(unfilled))
    giving = [one for one in nearby if one.pieces > 0]
    if giving:
        hours = np.minimum(hours, _with_nearby(given, demand, giving, unfilled))
    fetching = sum(near.stops_per_year * near.minutes / 60 for near in need.keeps_for)
    return np.asarray(hours * need.downtime.stop_share + fetching * (1 - unfilled))


def _with_nearby(
    given: RecommendationInput, demand: ShelfDemand, giving: list[NearbyStock], unfilled: FloatArray
) -> FloatArray:
    pieces, length = sum(one.pieces for one in giving), len(unfilled)
    law = convolve(demand.law, *(one.law for one in giving if one.law is not None))
    waiting = _until_delivered(given, demand, law, length + pieces)[pieces:]
    if given.hours_to_expedite is None:
        # All that wait together, and of them the share of this storeroom.
        waiting = waiting * (demand.law.mean / law.mean)
    short = _as_long(_unfilled(given, demand, law), length + pieces)[pieces:]
    jobs = demand.rate_per_year / demand.pieces_per_job
    fetched = jobs * np.maximum(unfilled - short, 0.0)
    return np.asarray(waiting + fetched * min(one.minutes for one in giving) / 60)


def _until_delivered(
    given: RecommendationInput, demand: ShelfDemand, law: LeadTimeDemand, length: int
) -> FloatArray:
    """Of all jobs for which no piece is left."""
    if given.hours_to_expedite is not None:
        hours = demand.rate_per_year * _unfilled(given, demand, law) * given.hours_to_expedite
    else:
        hours = law.expected_above_each(len(law)) * HOURS_PER_YEAR
    return _as_long(np.asarray(hours / demand.pieces_per_job), length)


def _unfilled(given: RecommendationInput, demand: ShelfDemand, law: LeadTimeDemand) -> FloatArray:
    """Share of the demand that finds no piece, by pieces kept.

    What is bought in an emergency is no order for the shelf: single pieces are lost to it as where a recommendation weighs
    a spare (`spare_value`). A job of several pieces, or one that waits for the ordinary order, leaves its demand standing.
    """
    if demand.sizes is not None or given.hours_to_expedite is None:
        return ServiceProfile(law, 1, demand.sizes).unfilled
    return erlang_losses(len(law) + 1, demand.pipeline + max(law.mean - demand.law.mean, 0.0))


def _as_long(values: FloatArray, length: int) -> FloatArray:
    """Cut, or with zeros beyond its end: nothing is short there."""
    return np.append(values, np.zeros(max(length - len(values), 0)))[:length]
