"""Does the rating of the chain carry the drive with the candidate on it?"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from drives.chain.forces import design_power_kw
from drives.chain.lubrication import RequiredLubrication, required_lubrication
from drives.chain.rating import Rating, rate
from drives.place.duty import PlacedPart
from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, compared, not_required
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.chains import Chain, UnknownChain, find_chain
from inventory.standards.confidence import turns_on

TAKEN_OVER = ("rated_by_pitch", "rated_as_standard_plates")
SAME_UTILISATION = 1e-6
"""Two utilisations nearer than this are the same: the same formula on the same numbers."""


@dataclass(frozen=True, kw_only=True)
class RatingCheck:
    """The finding, and the share of the rating that is used with the candidate; None where there is no rating."""

    finding: Finding
    utilisation: float | None = None


@dataclass(frozen=True, kw_only=True)
class _SmallSprocket:
    """The sprocket that the rating is for, with the chain on it."""

    chain: Chain
    teeth: float
    speed_rpm: float


def check_rating(part: PlacedPart) -> RatingCheck:
    """Rating of the chain at the candidate's teeth; another count is also compared with what the drive ran at before."""
    missing = _missing_record(part)
    if missing is not None:
        return _not_rated(fact(missing))
    teeth = part.new_teeth or 0.0
    small = _small_sprocket(part, teeth, part.driver_driven(teeth))
    if isinstance(small, Fact):
        return _not_rated(small)
    rating = _rating(part, small)
    return _not_rated(rating) if isinstance(rating, Fact) else _check_use(part, small, rating)


def _not_rated(reason: Fact) -> RatingCheck:
    return RatingCheck(finding=not_required(Aspect.RATING, reason))


def _missing_record(part: PlacedPart) -> str | None:
    if part.duty.power_kw is None or part.duty.speed_rpm is None:
        return "rating_power_or_speed_not_recorded"
    if part.new_teeth is None or part.required.strands is None:
        return "rating_teeth_or_strands_not_recorded"
    return "rating_role_not_recorded" if part.required.role is None else None


def _small_sprocket(
    part: PlacedPart, own_teeth: float, pair: tuple[float, float] | None
) -> _SmallSprocket | Fact:
    """The small sprocket with this one at `own_teeth` and driver and driven as a pair, or why it is not known."""
    designation = part.required.chain.designation if part.required.chain else None
    try:
        chain = find_chain(designation or "")
    except UnknownChain:
        return fact("rating_chain_not_standard")
    speed_rpm = part.duty.speed_rpm
    if speed_rpm is None or (pair is None and part.is_driven):
        return fact("rating_mating_sprocket_not_recorded")
    if pair is None:
        return _SmallSprocket(chain=chain, teeth=own_teeth, speed_rpm=speed_rpm)
    return _SmallSprocket(chain=chain, teeth=min(pair), speed_rpm=speed_rpm * pair[0] / min(pair))


def _rating(part: PlacedPart, small: _SmallSprocket) -> Rating | Fact:
    """The rating, or why there is none."""
    strands = part.required.strands or 1
    try:
        return rate(small.chain, teeth=small.teeth, speed_rpm=small.speed_rpm, strands=strands)
    except ValueError:
        return fact("rating_out_of_range", teeth=small.teeth, speed_rpm=small.speed_rpm)


def _check_use(part: PlacedPart, small: _SmallSprocket, rating: Rating) -> RatingCheck:
    factor, rated_kw = part.duty.service_factor, rating.rated_power_kw
    design_kw = design_power_kw(part.duty.power_kw or 0.0, service_factor=factor)
    share = design_kw / rated_kw if rated_kw > 0 else None
    before_kw = _rated_before_kw(part)

    def assess(kw: float) -> tuple[Outcome, tuple[Fact, ...]]:
        return _assess(part, small, kw, rated_kw, before_kw)

    outcome, facts = assess(design_kw)
    if factor is None and share is not None and share <= 1:
        return _not_rated(fact("rating_service_factor_not_recorded", used_share=share))
    outcome, facts = _weighed(rating, outcome, facts, lambda times: assess(design_kw / times)[0])
    margin = None if share is None else round(1 - share, 4)
    figures = compared(round(design_kw, 3), round(rated_kw, 3), limit=1.0, margin=margin)
    generation = fact("rating_generation", generation=rating.generation, confidence=rating.confidence)
    sources = (fact("document", title=rating.source), generation)
    facts = (*facts, fact("rating_limited_by", limit=rating.limited_by), _basis(rating))
    finding = Finding(Aspect.RATING, outcome, facts, **figures, sources=sources)
    return RatingCheck(finding=finding, utilisation=None if share is None else round(share, 4))


def _basis(rating: Rating) -> Fact:
    return next((note for note in rating.notes if note.code in TAKEN_OVER), fact("rated_by_older_tables"))


def _weighed(
    rating: Rating, outcome: Outcome, facts: tuple[Fact, ...], decide: Callable[[float], Outcome]
) -> tuple[Outcome, tuple[Fact, ...]]:
    """A rating taken over from another chain refuses nothing; what it turns on within its span is for review."""
    estimate = rating.estimate
    if estimate is None:
        return outcome, facts
    named = (estimate.named,) if outcome is Outcome.NO else turns_on(decide, estimate)
    return (Outcome.REVIEW, (*facts, *named)) if named else (outcome, facts)


def _assess(
    part: PlacedPart, small: _SmallSprocket, design_kw: float, rated_kw: float, rated_before_kw: float | None
) -> tuple[Outcome, tuple[Fact, ...]]:
    sizes = {"design_power_kw": design_kw, "rated_power_kw": rated_kw, "teeth": part.new_teeth}
    share = _share(design_kw, rated_kw)
    before = None if rated_before_kw is None else _share(design_kw, rated_before_kw)
    if share > 1:
        return _overloaded(sizes, share, before)
    carried = {**sizes, "used_share": share}
    oil = required_lubrication(small.chain, teeth=small.teeth, speed_rpm=small.speed_rpm)
    if isinstance(oil, RequiredLubrication) and oil.needs_maker_advice:
        return Outcome.REVIEW, (fact("rating_in_galling_region", **carried),)
    if before is not None and share > before + SAME_UTILISATION:
        return Outcome.REVIEW, (fact("rating_used_more_than_before", **carried, share_before=before),)
    return Outcome.OK, (fact("rating_used", **carried),)


def _overloaded(
    sizes: dict[str, float | None], share: float, before: float | None
) -> tuple[Outcome, tuple[Fact, ...]]:
    """Refused only where the candidate makes it worse: an overload that the drive always had is for an engineer."""
    reason = fact("rating_overloaded", **sizes, used_share=share)
    if math.isinf(share):
        reason = fact("rating_none_at_this_speed", **sizes)
    if before is None:
        return Outcome.REVIEW, (reason, fact("drive_load_before_not_known"))
    if share > before + SAME_UTILISATION:
        return Outcome.NO, (reason, fact("drive_load_before", share_before=before))
    return Outcome.REVIEW, (reason, fact("drive_overloaded_already"))


def _share(design_kw: float, rated_kw: float) -> float:
    """Share of the rating used; infinite where there is none."""
    return design_kw / rated_kw if rated_kw > 0 else math.inf


def _rated_before_kw(part: PlacedPart) -> float | None:
    """With the sprockets until now; None where it is not known."""
    if part.old_teeth is None:
        return None
    small = _small_sprocket(part, part.old_teeth, part.driver_driven_before)
    rating = small if isinstance(small, Fact) else _rating(part, small)
    return None if isinstance(rating, Fact) else rating.rated_power_kw
