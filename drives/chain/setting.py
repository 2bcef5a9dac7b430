"""How a chain drive is set after a sprocket was changed: slack of the chain, and alignment. Lengths in mm."""

from inventory.facts import Fact, fact
from inventory.number_checks import quantity

SLACK_PERCENT, TIGHTER_SLACK_PERCENT = (4.0, 6.0), (2.0, 3.0)
"""Whole movement of the slack strand at mid-span, of the centre distance. Source: a chain maker's published answer on
tension; the smaller one for high speed, shock, reversing and upright centres."""

LEAST_FACES_MM, MOST_FACES_MM, FACES_PER_CENTRE = 1.0, 10.0, 1 / 1000
SHAFT_SLOPE = 1 / 300
"""Faces of the sprockets under a straight edge; shafts level and parallel. Source: The Complete Guide to Chain, 1997, section 7.1.2.2."""


def setting_limits(centre_mm: float | None, *, runs_hard: bool) -> tuple[Fact, ...]:
    """Slack and alignment in mm, in shares where the centre distance is not known. `runs_hard`: shock or reversing.

    >>> [one.values["most_mm"] for one in setting_limits(1500, runs_hard=True)[:2]]
    [45.0, 1.5]
    """
    if centre_mm is None:
        return fact("slack_shares"), fact("faces_in_line_shares"), fact("shafts_parallel")
    centre = quantity("centre_mm", centre_mm)
    least, most = (_share(centre, percent) for percent in SLACK_PERCENT)
    tight_least, tight_most = (_share(centre, percent) for percent in TIGHTER_SLACK_PERCENT)
    slack = fact("slack_at_midspan_tighter", least_mm=tight_least, most_mm=tight_most)
    if not runs_hard:
        upright = {"upright_least_mm": tight_least, "upright_most_mm": tight_most}
        slack = fact("slack_at_midspan", least_mm=least, most_mm=most, **upright)
    faces = min(max(centre * FACES_PER_CENTRE, LEAST_FACES_MM), MOST_FACES_MM)
    return slack, fact("faces_in_line", most_mm=round(faces, 1)), fact("shafts_parallel")


def _share(centre_mm: float, percent: float) -> float:
    return round(centre_mm * percent / 100, 1)
