"""Tooth counts worth judging for a place."""

from math import floor

from drives.place.duty import Duty
from inventory.catalogue.candidates import TeethSpan
from inventory.interchange.requirement import Requirement


def teeth_span(required: Requirement, duty: Duty) -> TeethSpan:
    """Counts worth looking at: those that the drive's ratio tolerance allows; for double pitch also twice as many."""
    teeth = required.effective_teeth
    if teeth is None or required.is_idler:
        return TeethSpan(None, None)
    share = (duty.ratio_tolerance_percent or 0.0) / 100
    least, most = (
        floor(teeth * (1 - share)),
        floor(teeth / (1 - min(share, 0.5))) + 1 if share else floor(teeth),
    )
    if required.chain is not None and required.chain.is_double_pitch and not required.chain.has_large_rollers:
        most = max(most, 2 * most)
    return TeethSpan(max(least, 1), most)
