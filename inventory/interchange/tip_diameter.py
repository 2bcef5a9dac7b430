"""Whether the recorded outside diameter is that of the recorded teeth, or of a look-alike. Lengths in mm."""

from dataclasses import replace

from inventory.facts import fact
from inventory.interchange.findings import Finding, not_recorded
from inventory.interchange.look_alikes import seen_pitches
from inventory.interchange.requirement import Engagement, Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect
from inventory.standards.tooth_formulas import outside_diameter_mm, tip_diameter_max_mm, tip_diameter_min_mm

WORN_TIPS_SHARE = 0.05
"""Of the pitch, on the diameter: tips lower than the standard's by this still tell the pitch of 578 catalogue wheels. Computed."""

MOST_TEETH_OFF = 5
"""A miscount is by a tooth or two; a diameter further off is another pitch or another number."""


def check_tip_diameter(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """For review where the diameter belongs to other teeth or another pitch: it overrules neither the count nor the name."""
    rim, teeth, given_mm = offered.chain, offered.teeth, offered.outside_diameter_mm
    if (
        rim is None
        or teeth is None
        or given_mm is None
        or rim.is_double_pitch
        or offered == required.interface
    ):
        return ()
    least_mm, most_mm = tip_range_mm(rim, teeth)
    slack_mm = practice.thresholds.measuring_uncertainty_mm
    if least_mm - WORN_TIPS_SHARE * rim.pitch_mm - slack_mm <= given_mm <= most_mm + slack_mm:
        return ()
    others = [count for count in _counts_near(teeth) if _is_within(given_mm, rim, count, slack_mm)]
    pitches = [other for other in seen_pitches() if other.pitch_mm != rim.pitch_mm]
    chains = [other.name for other in pitches if _is_within(given_mm, other, teeth, slack_mm)]
    if not others and not chains:
        return ()
    sizes = {"least_mm": round(least_mm, 2), "most_mm": round(most_mm, 2)}
    reason = fact("outside_diameter_of_other_teeth", rim=rim.name, teeth=teeth, diameter_mm=given_mm, **sizes)
    look_alikes = [fact("diameter_of_other_count", rim=rim.name, teeth=count) for count in others[:1]]
    look_alikes += [fact("diameter_of_other_pitch", look_alike=name, teeth=teeth) for name in chains[:1]]
    measure = fact("count_teeth_and_measure_pitch", look_alikes=tuple(look_alikes))
    found = not_recorded(Aspect.TEETH, reason, required=required.teeth, offered=teeth)
    return (replace(found, facts=(reason, measure)),)


def tip_range_mm(rim: Engagement, teeth: int) -> tuple[float, float]:
    """The smallest and the largest outside diameter that the standards allow for this tooth count."""
    sizes = {"teeth": teeth, "roller_diameter_mm": rim.roller_diameter_mm}
    largest_mm = max(tip_diameter_max_mm(rim.pitch_mm, **sizes), outside_diameter_mm(rim.pitch_mm, teeth))
    return tip_diameter_min_mm(rim.pitch_mm, **sizes), largest_mm


def _counts_near(teeth: int) -> list[int]:
    """Other counts, the nearest first."""
    counts = range(teeth - MOST_TEETH_OFF, teeth + MOST_TEETH_OFF + 1)
    return sorted(
        (count for count in counts if count != teeth and count > 2), key=lambda count: abs(count - teeth)
    )


def _is_within(given_mm: float, rim: Engagement, teeth: int, slack_mm: float) -> bool:
    least_mm, most_mm = tip_range_mm(rim, teeth)
    return least_mm - slack_mm <= given_mm <= most_mm + slack_mm
