"""Part for place: the part's own findings with the drive's merged in; the worst wins."""

from dataclasses import replace

from drives.place.duty import Duty, PlacedPart, with_shock
from drives.place.duty_checks import check_chain_wear, check_fast_driver, check_lifting
from drives.place.rating_check import RatingCheck, check_rating
from drives.place.ratio_check import RatioChange, check_ratio, driven_rpm, present_links
from drives.place.torque_check import check_torque
from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.findings import Consequences, Finding, Verdict
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.table_doubts import Judged, settle, table_doubts
from inventory.interchange.thresholds import Practice
from inventory.interchange.verdict import SHIPPED, chain_line_shift_mm, part_findings, with_cautions
from inventory.interchange.vocabulary import Aspect


def judge_for_place(
    required: Requirement,
    offered: Sprocket,
    *,
    duty: Duty | None = None,
    practice: Practice = SHIPPED,
    bushes: BushesAtHand | None = None,
) -> Verdict:
    """Whether `offered` can replace what is required at a position, with what is known of its drive.

    A drive that can take it up allows another tooth count; rating, torque, chain wear and duty are added. Without `duty`
    they are unchecked; without `bushes` a bush change is offered on condition.
    """
    duty = duty or Duty()
    required = with_shock(required, duty)
    placed = PlacedPart(required=required, duty=duty, offered=offered, practice=practice)
    change, rating = check_ratio(placed), _rating(placed)
    verdict = Verdict(
        findings=_findings(placed, change, rating, bushes),
        consequences=_consequences(placed, change, rating.utilisation if rating else None),
    )
    return with_cautions(verdict, required=required, offered=offered, practice=practice)


def findings_for_place(
    required: Requirement, offered: Sprocket, *, duty: Duty, practice: Practice
) -> tuple[Finding, ...]:
    """Those of the verdict alone, which give grade and work, where many candidates are judged."""
    placed = PlacedPart(required=with_shock(required, duty), duty=duty, offered=offered, practice=practice)
    return _findings(placed, check_ratio(placed), _rating(placed), None)


def _rating(placed: PlacedPart) -> RatingCheck | None:
    return None if placed.required.is_idler else check_rating(placed)


def _findings(
    placed: PlacedPart, change: RatioChange | None, rating: RatingCheck | None, bushes: BushesAtHand | None
) -> tuple[Finding, ...]:
    def find(given: Judged) -> tuple[Finding, ...]:
        moved = replace(placed, required=given[0], offered=given[1])
        part = part_findings(*given, practice=placed.practice, bushes=bushes)
        return _without_moot((*_with_ratio(part, change), *_of_drive(moved, rating)))

    required, offered = placed.required, placed.offered
    return settle(find, (required, offered), table_doubts(required, offered))


def _of_drive(placed: PlacedPart, rating: RatingCheck | None) -> tuple[Finding, ...]:
    of_power = () if rating is None else (rating.finding, *check_torque(placed), *check_fast_driver(placed))
    return (*of_power, check_chain_wear(placed), check_lifting(placed))


def _with_ratio(findings: tuple[Finding, ...], change: RatioChange | None) -> tuple[Finding, ...]:
    """The drive's answer replaces the part's bare no; an unknown count stays unknown."""
    if change is None:
        return findings
    return tuple(
        change.finding if finding.aspect is Aspect.TEETH and not finding.is_unchecked else finding
        for finding in findings
    )


def _without_moot(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """That lifting is not recorded is moot where a declaration already decides on duty."""
    decided = any(f.aspect is Aspect.DUTY and f.outcome is not None for f in findings)
    return tuple(f for f in findings if not (decided and f.aspect is Aspect.DUTY and f.outcome is None))


def _consequences(placed: PlacedPart, change: RatioChange | None, utilisation: float | None) -> Consequences:
    is_same = placed.old_teeth is not None and placed.old_teeth == placed.new_teeth
    unchanged = 0.0 if is_same else None
    return Consequences(
        ratio_change_percent=change.change_percent if change else unchanged,
        driven_speed_rpm=driven_rpm(placed, placed.new_teeth),
        chain_links=change.links if change else present_links(placed.required, placed.duty),
        centre_shift_mm=change.centre_shift_mm if change else unchanged,
        rating_utilisation=utilisation,
        chain_line_shift_mm=chain_line_shift_mm(placed.required, placed.offered),
    )
