"""A chain or rim that is recorded by its measures alone, against the standard chains of its pitch by name. Lengths in mm."""

from dataclasses import dataclass, replace
from functools import lru_cache

from inventory.facts import Fact, fact
from inventory.interchange.look_alikes import is_one_rim, seen_rims
from inventory.interchange.requirement import Engagement
from inventory.interchange.screening import Screened, screen
from inventory.interchange.thresholds import Thresholds
from inventory.interchange.vocabulary import OUTCOME_RANK, Outcome

MOST_APART_MM = 0.5
"""A roller or width further from every standard one belongs to a chain outside the standards. Judgement."""


@dataclass(frozen=True)
class _Named:
    chain: Engagement
    apart_mm: float


def screened_by_name(screened: Screened, chain: Engagement, rim: Engagement, limits: Thresholds) -> Screened:
    """What the screening rule found for measured sizes, corrected by the standard chain that they come nearest to."""
    if (chain.designation is None) == (rim.designation is None):
        return screened
    measured, named = (chain, rim) if chain.designation is None else (rim, chain)
    nearest = _nearest(measured)
    if not nearest or any(is_one_rim(measured, one.chain) for one in nearest):
        return screened
    first, others = nearest[0], nearest[1:]
    is_clear = all(first.apart_mm + limits.measuring_uncertainty_mm < one.apart_mm for one in others)
    if not is_clear:
        return _at_least_review(screened, _measures(measured, *nearest[:2]))
    if is_one_rim(first.chain, named):
        return _not_refused(screened, _measures(measured, first))
    as_named = (
        screen(first.chain, rim, limits=limits)
        if measured is chain
        else screen(chain, first.chain, limits=limits)
    )
    if OUTCOME_RANK[as_named.outcome] > OUTCOME_RANK[screened.outcome]:
        return replace(as_named, facts=(*as_named.facts, *_measures(measured, first)))
    return replace(screened, facts=(*screened.facts, *_measures(measured, first)))


def _not_refused(screened: Screened, names: tuple[Fact, ...]) -> Screened:
    """The measure comes nearest to the very chain of the other side: then it is to be measured again, not refused."""
    if screened.outcome is not Outcome.NO:
        return screened
    return replace(screened, outcome=Outcome.REVIEW, facts=(*screened.facts, *names, MEASURE_AGAIN))


def _at_least_review(screened: Screened, names: tuple[Fact, ...]) -> Screened:
    return replace(screened, outcome=Outcome.REVIEW, facts=(*screened.facts, *names, MEASURE_AGAIN))


MEASURE_AGAIN = fact("measure_roller_and_width_again")


def _measures(measured: Engagement, *named: _Named) -> tuple[Fact, ...]:
    sizes = {"roller_mm": measured.roller_diameter_mm, "inner_width_mm": measured.inner_width_mm}
    return (fact("chain_measures_as", **sizes, look_alikes=tuple(one.chain.name for one in named)),)


@lru_cache(maxsize=1024)
def _nearest(measured: Engagement) -> tuple[_Named, ...]:
    """The standard chains of this pitch that a careless reading may take it for, the nearest first."""
    named = [_Named(one, _apart_mm(measured, one)) for one in seen_rims(measured.pitch_mm)]
    return tuple(
        sorted((one for one in named if one.apart_mm <= MOST_APART_MM), key=lambda one: one.apart_mm)
    )


def _apart_mm(one: Engagement, other: Engagement) -> float:
    """The larger of the two differences."""
    return max(
        abs(one.roller_diameter_mm - other.roller_diameter_mm), abs(one.inner_width_mm - other.inner_width_mm)
    )
