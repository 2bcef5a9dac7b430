"""Wear of a chain: how much is too much, how to measure it, and how slack a chain should hang."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.number_checks import LARGEST_QUANTITY, number, quantity, quantity_or_zero, whole
from inventory.standards.tooth_counts import drive_teeth

# General limit: ASME B29.1 tooth form allows 3 %; three trade texts agree.
GENERAL_LIMIT_PERCENT = 3.0
# Large sprockets lose the chain over their tips earlier: 200/N, two trade texts.
LARGE_SPROCKET_PERCENT_TEETH = 200.0
# Fixed centres, chains in parallel, timing: trade texts. Double pitch: common practice, not seen in print.
STRICT_LIMIT_PERCENT = 1.5
# GOST 13568-97, 10.5: sag of the slack strand 40 +- 10 mm for 1000 mm centres under 160 +- 10 N across the strand;
# the lower bound where the drive is steeper than 45 degrees.
SLACK_LOW_PER_MM, SLACK_HIGH_PER_MM = 0.030, 0.050
SLACK_TEST_FORCE_N = 160.0
STEEP_DEG = 45.0


@dataclass(frozen=True)
class Slack:
    """How far the slack strand should give in its middle under the test force."""

    least_mm: float
    most_mm: float
    test_force_n: float
    source: str


def elongation_limit_percent(
    largest_teeth: float,
    *,
    fixed_centres: bool = False,
    double_pitch: bool = False,
    parallel_chains: bool = False,
) -> float:
    """Elongation at which a chain is worn out.

    Parameters
    ----------
    largest_teeth : float
        Teeth of the largest sprocket on the chain [-], effective ones for double pitch.
    fixed_centres : bool
        True where the centre distance cannot be moved.
    double_pitch : bool
        True for double-pitch chain.
    parallel_chains : bool
        True where chains run side by side, or the drive keeps time.

    Returns
    -------
    float
        Limit [%].

    Raises
    ------
    ValueError
        If the count is out of range.

    Source
    ------
    ASME B29.1 (3 %); 200/N % from 67 teeth and 1.5 % in the special cases, chain makers' practice. The 1.5 % of
    double-pitch chain was not seen in print.

    Examples
    --------
    >>> elongation_limit_percent(80), elongation_limit_percent(57), elongation_limit_percent(57, fixed_centres=True)
    (2.5, 3.0, 1.5)
    """
    teeth = drive_teeth("largest_teeth", largest_teeth)
    limit = min(GENERAL_LIMIT_PERCENT, LARGE_SPROCKET_PERCENT_TEETH / teeth)
    if fixed_centres or double_pitch or parallel_chains:
        return min(limit, STRICT_LIMIT_PERCENT)
    return limit


def elongation_percent(measured_mm: float, *, pitches: int, pitch_mm: float) -> float:
    """Elongation from a length measured over some pitches of a tight strand.

    Parameters
    ----------
    measured_mm : float
        Pin centre to pin centre [mm], above 0.
    pitches : int
        Pitches between the two pins [-]; the more the better.
    pitch_mm : float
        Nominal pitch [mm], above 0.

    Returns
    -------
    float
        Elongation [%]; below 0 where the reading is shorter than a new chain.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    e = (M - n p) / (n p), definition.

    Examples
    --------
    >>> round(elongation_percent(24.72 * 25.4, pitches=24, pitch_mm=25.4), 3)
    3.0
    """
    nominal = whole("pitches", pitches, least=1, most=LARGEST_QUANTITY) * quantity("pitch_mm", pitch_mm)
    return (quantity("measured_mm", measured_mm) / nominal - 1) * 100


def length_at_elongation_mm(elongation_percent: float, *, pitches: int, pitch_mm: float) -> float:
    """Length to read over some pitches when a chain has reached an elongation.

    Parameters
    ----------
    elongation_percent : float
        Elongation [%], zero or more.
    pitches : int
        Pitches between the two pins [-].
    pitch_mm : float
        Nominal pitch [mm], above 0.

    Returns
    -------
    float
        Length [mm].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    M = n p (1 + e), definition.

    Examples
    --------
    >>> round(length_at_elongation_mm(3, pitches=24, pitch_mm=25.4) / 25.4, 6)
    24.72
    """
    nominal = whole("pitches", pitches, least=1, most=LARGEST_QUANTITY) * quantity("pitch_mm", pitch_mm)
    return nominal * (1 + quantity_or_zero("elongation_percent", elongation_percent) / 100)


def slack(centre_mm: float, *, inclination_deg: float = 0.0) -> Slack:
    """Movement of the slack strand in its middle under the test force, once the drive is set.

    Parameters
    ----------
    centre_mm : float
        Centre distance [mm], above 0.
    inclination_deg : float
        Angle of the line of centres to the horizontal [degrees], 0 to 90.

    Returns
    -------
    Slack
        Least and most movement [mm] and the force [N]; above 45 degrees both are the lower bound.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    GOST 13568-97, 10.5.

    Examples
    --------
    >>> slack(1000).least_mm, slack(1000).most_mm
    (30.0, 50.0)
    """
    centre, angle = quantity("centre_mm", centre_mm), number("inclination_deg", inclination_deg)
    if not 0 <= angle <= 90:
        raise ValueError(f"`inclination_deg` must be from 0 to 90, not {angle:g}.")
    high = SLACK_LOW_PER_MM if angle > STEEP_DEG else SLACK_HIGH_PER_MM
    return Slack(SLACK_LOW_PER_MM * centre, high * centre, SLACK_TEST_FORCE_N, "GOST 13568-97, 10.5")
