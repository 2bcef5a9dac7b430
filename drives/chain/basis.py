"""Which row of the rated chains stands for a chain, and how surely."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from inventory.number_checks import quantity

TABLE = Path(__file__).parent / "tables" / "rated_chains.csv"
# Pitches come from millimetre tables with six decimals; a thousandth of an inch parts no two chains.
PITCH_TOLERANCE_IN = 0.001
BY_PITCH = "by pitch, not the standard for this series"
HEAVY = "base chain of standard plates, heavy plates carry no less"
# Rollers of a B-series chain: ISO 10823 has one roller form for both series, and its constant is 17 in inch units.
ROLLER_CONSTANT_ISO = 17.0
PLATE_CONSTANT = 0.004


@dataclass(frozen=True)
class RatedChain:
    """Constants of the rating equations and limits of the lubrication classes of one chain."""

    asme_designation: str
    pitch_in: float
    plate_constant: float
    roller_constant: float
    manual_up_to_ft_min: float
    bath_up_to_ft_min: float
    rating_source: str
    lubrication_source: str
    lubrication_confidence: str
    note: str


@dataclass(frozen=True)
class Basis:
    """What a rating stands on: the row, how surely it stands for this chain, or why nothing does.

    `row` is None where no published equation covers the chain; `reason` then says why.
    """

    row: RatedChain | None
    pitch_in: float
    plate_constant: float
    roller_constant: float
    confidence: str
    reason: str
    notes: tuple[str, ...] = ()


@cache
def rated_chains() -> tuple[RatedChain, ...]:
    """The chains that the rating equations were published for, by rising pitch.

    Parameters
    ----------
    None

    Returns
    -------
    tuple of RatedChain
        One row per ASME number, 25 to 240.

    Raises
    ------
    ValueError
        If a number in the table cannot be read.

    Source
    ------
    Each row names its own.

    Examples
    --------
    >>> [row.asme_designation for row in rated_chains()][:4]
    ['25', '35', '40', '41']
    """
    with TABLE.open(newline="", encoding="utf-8") as file:
        return tuple(_read(row) for row in csv.DictReader(file))


def _read(row: dict[str, str]) -> RatedChain:
    return RatedChain(
        asme_designation=row["asme_designation"],
        pitch_in=float(row["pitch_in"]),
        plate_constant=float(row["plate_constant"]),
        roller_constant=float(row["roller_constant"]),
        manual_up_to_ft_min=float(row["manual_up_to_ft_min"]),
        bath_up_to_ft_min=float(row["bath_up_to_ft_min"]),
        rating_source=row["rating_source"],
        lubrication_source=row["lubrication_source"],
        lubrication_confidence=row["lubrication_confidence"],
        note=row["note"],
    )


def find_basis(
    pitch_in: float, *, asme_designation: str | None = None, series: str = "", is_double_pitch: bool = False
) -> Basis:
    """The constants that rate a chain, or the reason why there are none.

    Parameters
    ----------
    pitch_in : float
        Chain pitch [in], above 0.
    asme_designation : str, optional
        ASME number of the chain, such as "40" or "60H".
    series : str
        Series of the chain: "A", "B" and "H" can be rated.
    is_double_pitch : bool
        True for ISO 1275 and conveyor chains of double pitch.

    Returns
    -------
    Basis
        Row, constants and confidence; `row` is None where nothing published covers the chain.

    Raises
    ------
    ValueError
        If the pitch is not positive, or is not that of the ASME number.

    Source
    ------
    Shigley's Mechanical Engineering Design, 9th ed., eq. 17-32 and 17-33 cover ASME 25 to 240; the roller form of
    ISO 10823 covers both series of ISO 606 with one constant.

    Examples
    --------
    >>> find_basis(0.5, asme_designation="40").confidence
    'found'
    >>> find_basis(1.0, asme_designation="2040", is_double_pitch=True).reason
    'no rating equation for double-pitch chain was read in print; ask the maker'
    """
    pitch = quantity("pitch_in", pitch_in)
    if is_double_pitch:
        return _none(pitch, "no rating equation for double-pitch chain was read in print; ask the maker")
    number = (asme_designation or "").strip().upper()
    for row in rated_chains():
        if number in (row.asme_designation, f"{row.asme_designation}H"):
            return _by_number(row, pitch, heavy=number.endswith("H"))
    if series == "B":
        return _by_pitch(pitch)
    name = f"No. {number}" if number else f"a chain of series {series or 'unknown'}"
    return _none(pitch, f"the rating equations cover ASME 25 to 240 and ISO 606 B-series sizes, not {name}")


def _none(pitch_in: float, reason: str) -> Basis:
    return Basis(None, pitch_in, 0.0, 0.0, "none", reason)


def _by_number(row: RatedChain, pitch_in: float, *, heavy: bool) -> Basis:
    if abs(row.pitch_in - pitch_in) > PITCH_TOLERANCE_IN:
        raise ValueError(
            f"`pitch_in` must be {row.pitch_in:g} for No. {row.asme_designation}, not {pitch_in:g}."
        )
    notes = ("Heavy plates: rated as the chain with standard plates.",) if heavy else ()
    confidence = HEAVY if heavy else "found"
    return Basis(row, row.pitch_in, row.plate_constant, row.roller_constant, confidence, "", notes)


def _by_pitch(pitch_in: float) -> Basis:
    """The row of the same pitch, or the next larger one: its speed limits are the lower ones."""
    rows = [row for row in rated_chains() if row.asme_designation != "41"]
    smallest, largest = rows[0].pitch_in, rows[-1].pitch_in
    if not smallest - PITCH_TOLERANCE_IN <= pitch_in <= largest + PITCH_TOLERANCE_IN:
        return _none(pitch_in, f"the pitch {pitch_in:g} in is outside {smallest:g} to {largest:g} in")
    row = next(row for row in rows if row.pitch_in >= pitch_in - PITCH_TOLERANCE_IN)
    note = (
        "The ASME equations were applied by pitch to a B-series chain, with the roller constant of ISO 10823."
    )
    return Basis(row, pitch_in, PLATE_CONSTANT, ROLLER_CONSTANT_ISO, BY_PITCH, "", (note,))
