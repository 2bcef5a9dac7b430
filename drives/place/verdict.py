"""Part for place: the part's own findings with the drive's merged in; the worst wins."""

from dataclasses import replace

from drives.place.duty import Duty, Place, with_shock
from drives.place.load import check_chain_wear, check_duty, check_load
from drives.place.ratio import RatioChange, driven_rpm, present_links, ratio_change
from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.safety import cautions_for
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Consequences, Finding, Requirement, Specification, Verdict
from inventory.interchange.verdict import SHIPPED, judge
from inventory.interchange.vocabulary import Aspect


def judge_for_place(
    required: Requirement,
    offered: Specification,
    *,
    duty: Duty | None = None,
    practice: Practice = SHIPPED,
    bushes: BushesAtHand | None = None,
) -> Verdict:
    """What may be said about `offered` at a place, with what its drive tells.

    Parameters
    ----------
    required : Requirement
        What the place asks for. Lengths in mm.
    offered : Specification
        The candidate.
    duty : Duty, optional
        Power in kW, speeds in rpm, lengths in mm, tolerance in percent. Left out, rating, wear and duty are unchecked.
    practice : Practice
        Thresholds and shop times of the plant.
    bushes : BushesAtHand, optional
        Bushes that are free on the shelves, where somebody looked.

    Returns
    -------
    Verdict
        The findings of `inventory.interchange.judge`, where another tooth count is opened again by a drive that can
        take it up, with rating, chain wear and duty added; and the consequences for the drive.

    Source: the rules named in each finding.
    """
    duty = duty or Duty()
    required = with_shock(required, duty)
    place = Place(required=required, duty=duty, offered=offered, practice=practice)
    part = judge(required, offered, practice=practice, bushes=bushes)
    change, load = ratio_change(place), check_load(place)
    findings = (*_with_ratio(part, change), *load.findings, *check_chain_wear(place), *check_duty(place))
    verdict = Verdict(
        findings=_without_moot(findings), consequences=_consequences(place, part, change, load.utilisation)
    )
    return replace(
        verdict, cautions=cautions_for(verdict, required=required, offered=offered, practice=practice)
    )


def _with_ratio(part: Verdict, change: RatioChange | None) -> tuple[Finding, ...]:
    """The drive's answer in the place of the part's bare no; what nobody knows stays unknown."""
    if change is None:
        return part.findings
    return tuple(
        change.finding if finding.aspect is Aspect.TEETH and not finding.is_unchecked else finding
        for finding in part.findings
    )


def _without_moot(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Duty that was not asked about is moot where a declaration already speaks about duty."""
    spoken = any(f.aspect is Aspect.DUTY and f.outcome is not None for f in findings)
    return tuple(f for f in findings if not (spoken and f.aspect is Aspect.DUTY and f.outcome is None))


def _consequences(
    place: Place, part: Verdict, change: RatioChange | None, utilisation: float | None
) -> Consequences:
    links = change.links if change else present_links(place)
    return replace(
        part.consequences,
        ratio_change_percent=change.change_percent
        if change
        else (0.0 if place.old_teeth is not None and place.old_teeth == place.new_teeth else None),
        driven_speed_rpm=change.driven_rpm if change else driven_rpm(place, place.new_teeth),
        chain_links=links,
        centre_shift_mm=change.centre_shift_mm
        if change
        else (0.0 if place.old_teeth is not None and place.old_teeth == place.new_teeth else None),
        rating_utilisation=utilisation,
    )
