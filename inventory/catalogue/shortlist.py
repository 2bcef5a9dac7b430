"""Which items are worth judging for a requirement: by pitch and tooth count, as an index finds them."""

from decimal import Decimal
from math import floor

from django.db.models import Q

from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.models import PartKind

ToothRange = tuple[int, int] | None
"""The least and the greatest tooth count worth judging; None where any count may do (an idler)."""


def tooth_range(required: Requirement, ratio_tolerance_percent: float | None = None) -> ToothRange:
    """The counts that a drive's ratio tolerance allows; for double pitch also twice as many."""
    teeth = required.effective_teeth
    if teeth is None or required.is_idler:
        return None
    share = (ratio_tolerance_percent or 0.0) / 100
    least = floor(teeth * (1 - share))
    most = floor(teeth / (1 - min(share, 0.5))) + 1 if share else floor(teeth)
    if required.chain is not None and required.chain.is_double_pitch and not required.chain.has_large_rollers:
        most = max(most, 2 * most)
    return max(least, 1), most


def shortlisted(required: Requirement, teeth: ToothRange, practice: Practice) -> Q:
    """Specifications that could engage or be mistaken for one that does: pitch and count are right, or one of them is not known.

    Look-alikes that engage badly are in it on purpose: the refusal is worth as much as the offer.
    """
    pitch = None if required.chain is None else _pitch_near(required, practice)
    count = None if teeth is None else Q(teeth__gte=teeth[0], teeth__lte=teeth[1])
    sprocket, no_pitch, no_count = Q(kind=PartKind.SPROCKET), Q(pitch_mm__isnull=True), Q(teeth__isnull=True)
    if pitch is not None and count is not None:
        # Each case whole and in the specifications alone, so that each finds its rows by the index.
        cases = sprocket & pitch & count | sprocket & pitch & no_count | sprocket & no_pitch & count
    elif pitch is not None:
        cases = sprocket & (pitch | no_pitch)
    else:
        cases = sprocket if count is None else sprocket & (count | no_count)
    return cases


def could_engage(required: Requirement, offered: Sprocket, teeth: ToothRange, practice: Practice) -> bool:
    """The same choice as `shortlist`, for one item whose attributes are at hand."""
    if offered.chain is not None and not has_pitch_near(required, offered.chain.pitch_mm, practice):
        return False
    return teeth is None or offered.teeth is None or teeth[0] <= offered.teeth <= teeth[1]


def has_pitch_near(required: Requirement, pitch_mm: float, practice: Practice) -> bool:
    """Whether a rim of this pitch could engage; any, where the chain is not known."""
    if required.chain is None:
        return True
    tolerance = practice.thresholds.pitch_tolerance_mm
    return any(abs(pitch_mm - own_mm) <= tolerance for own_mm in _pitches(required))


def _pitches(required: Requirement) -> list[float]:
    """The chain's own pitch; for double-pitch chain on standard rollers also half of it."""
    chain = required.chain
    assert chain is not None
    pitches = [chain.pitch_mm]
    if chain.is_double_pitch and not chain.has_large_rollers:
        pitches.append(chain.pitch_mm / 2)
    return pitches


def _pitch_near(required: Requirement, practice: Practice) -> Q:
    near = Q()
    for least, most in pitch_ranges(required, practice):
        near |= Q(pitch_mm__gte=least, pitch_mm__lte=most)
    return near


def pitch_ranges(required: Requirement, practice: Practice) -> list[tuple[Decimal, Decimal]]:
    """The least and the greatest pitch of rims that the chain could lie on."""
    tolerance = Decimal(str(practice.thresholds.pitch_tolerance_mm))
    pitches = [Decimal(str(round(pitch_mm, 6))) for pitch_mm in _pitches(required)]
    return [(pitch - tolerance, pitch + tolerance) for pitch in pitches]
