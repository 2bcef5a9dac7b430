"""Elongation at which a chain is worn out."""

from inventory.interchange.thresholds import Thresholds
from inventory.standards.tooth_counts import drive_teeth

GENERAL_LIMIT_PERCENT = 3.0
"""ASME B29.1 tooth form allows 3 %; three trade texts agree."""

LARGE_SPROCKET_PERCENT_TEETH = 200.0
"""Large sprockets lose the chain over their tips earlier: 200/N. Two trade texts."""

STRICT_LIMIT_PERCENT = 1.5
"""Fixed centres, chains in parallel, timing: trade texts."""

DOUBLE_PITCH_LIMIT_PERCENT = Thresholds().double_pitch_wear_limit_percent
"""From memory, not seen in print: a threshold that a plant may state."""


def elongation_limit_percent(
    largest_teeth: float,
    *,
    fixed_centres: bool = False,
    double_pitch: bool = False,
    double_pitch_percent: float = DOUBLE_PITCH_LIMIT_PERCENT,
    parallel_chains: bool = False,
) -> float:
    """The limit for the largest sprocket on the chain; `parallel_chains` also covers drives that keep time.

    >>> elongation_limit_percent(80), elongation_limit_percent(57), elongation_limit_percent(57, fixed_centres=True)
    (2.5, 3.0, 1.5)
    """
    teeth = drive_teeth("largest_teeth", largest_teeth)
    limit = min(GENERAL_LIMIT_PERCENT, LARGE_SPROCKET_PERCENT_TEETH / teeth)
    if fixed_centres or parallel_chains:
        limit = min(limit, STRICT_LIMIT_PERCENT)
    return min(limit, double_pitch_percent) if double_pitch else limit
