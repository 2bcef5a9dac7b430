"""Factors between the power of a drive and the rating of a chain, each from one method only."""

from __future__ import annotations

from typing import Literal, TypeVar

from inventory.number_checks import LARGEST_QUANTITY, quantity, whole
from inventory.standards.tooth_counts import drive_teeth

Row = TypeVar("Row")
Method = Literal["ASME", "ISO"]
Side = Literal["pre_extreme", "post_extreme"]

# Strands never mix methods. ASME: Shigley's Mechanical Engineering Design, 9th ed., table 17-23 (7 is not printed).
# ISO: course-design text on roller chain drives to the GB/ISO method (12A example).
STRAND_FACTORS: dict[str, dict[int, float]] = {
    "ASME": {1: 1.0, 2: 1.7, 3: 2.5, 4: 3.3, 5: 3.9, 6: 4.6, 8: 6.0},
    "ISO": {1: 1.0, 2: 1.75, 3: 2.5},
}
# Shigley, 9th ed., table 17-22: exponents of the tooth count before and after the extreme power.
TOOTH_EXPONENTS: dict[str, float] = {"pre_extreme": 1.08, "post_extreme": 1.5}
ASME_BASE_TEETH = 17
ISO_BASE_TEETH = 19
# The Complete Guide to Chain, table 4.2.
SERVICE_FACTORS: dict[str, dict[str, float]] = {
    "smooth": {"motor_or_turbine": 1.0, "engine_hydraulic": 1.0, "engine_mechanical": 1.2},
    "moderate_shock": {"motor_or_turbine": 1.3, "engine_hydraulic": 1.2, "engine_mechanical": 1.4},
    "heavy_shock": {"motor_or_turbine": 1.5, "engine_hydraulic": 1.4, "engine_mechanical": 1.7},
}
# Course-design text on roller chain drives to the GB/ISO method: driven machine, then driver.
ISO_APPLICATION_FACTORS: dict[str, dict[str, float]] = {
    "smooth": {"smooth": 1.0, "slight_shock": 1.1, "moderate_shock": 1.3},
    "slight_shock": {"smooth": 1.4, "slight_shock": 1.5, "moderate_shock": 1.7},
    "moderate_shock": {"smooth": 1.8, "slight_shock": 1.9, "moderate_shock": 2.1},
}


def strand_factor(strands: int, *, method: Method) -> float:
    """How many single strands a chain of several strands is worth.

    Parameters
    ----------
    strands : int
        Strands [-].
    method : {"ASME", "ISO"}
        The method that gives the rating of the single strand.

    Returns
    -------
    float
        Factor [-].

    Raises
    ------
    ValueError
        If the method has no factor for that many strands.

    Source
    ------
    Shigley, 9th ed., table 17-23 (ASME); course-design text to the GB/ISO method (ISO).

    Examples
    --------
    >>> strand_factor(2, method="ASME"), strand_factor(2, method="ISO")
    (1.7, 1.75)
    """
    known = _row(STRAND_FACTORS, "method", method)
    if whole("strands", strands, least=1, most=LARGEST_QUANTITY) not in known:
        raise ValueError(f"`strands` must be one of {sorted(known)} in the {method} method, not {strands}.")
    return known[int(strands)]


def tooth_factor(teeth: float, *, side: Side) -> float:
    """Rating at a tooth count over the rating at 17 teeth.

    Parameters
    ----------
    teeth : float
        Teeth of the small sprocket [-].
    side : {"pre_extreme", "post_extreme"}
        Whether the plates or the rollers and bushings decide.

    Returns
    -------
    float
        Factor K1 [-].

    Raises
    ------
    ValueError
        If the count or the side is out of range.

    Source
    ------
    Shigley, 9th ed., table 17-22: (N/17)**1.08 and (N/17)**1.5.

    Examples
    --------
    >>> round(tooth_factor(21, side="post_extreme"), 2)
    1.37
    """
    if side not in TOOTH_EXPONENTS:
        raise ValueError(f"`side` must be one of {sorted(TOOTH_EXPONENTS)}, not {side!r}.")
    return float((drive_teeth("teeth", teeth) / ASME_BASE_TEETH) ** TOOTH_EXPONENTS[side])


def iso_tooth_factor(teeth: float) -> float:
    """Corrected power at a tooth count over that at 19 teeth.

    Parameters
    ----------
    teeth : float
        Teeth of the small sprocket [-].

    Returns
    -------
    float
        Factor f2 [-].

    Raises
    ------
    ValueError
        If the count is out of range.

    Source
    ------
    ISO 10823, f2 = (19/z1)**1.08; the text itself was not seen, the exponent agrees with Shigley eq. 17-32.

    Examples
    --------
    >>> round(iso_tooth_factor(17), 3)
    1.128
    """
    return float((ISO_BASE_TEETH / drive_teeth("teeth", teeth)) ** TOOTH_EXPONENTS["pre_extreme"])


def service_factor(load: str, prime_mover: str) -> float:
    """Allowance for the shocks of the driven machine and the driver, ASME practice.

    Parameters
    ----------
    load : {"smooth", "moderate_shock", "heavy_shock"}
        Driven machine.
    prime_mover : {"motor_or_turbine", "engine_hydraulic", "engine_mechanical"}
        Driver; an engine with its kind of coupling.

    Returns
    -------
    float
        Factor Ks [-].

    Raises
    ------
    ValueError
        If a word is not in the table.

    Source
    ------
    The Complete Guide to Chain, table 4.2.

    Examples
    --------
    >>> service_factor("moderate_shock", "motor_or_turbine")
    1.3
    """
    row = _row(SERVICE_FACTORS, "load", load)
    if prime_mover not in row:
        raise ValueError(f"`prime_mover` must be one of {sorted(row)}, not {prime_mover!r}.")
    return row[prime_mover]


def iso_application_factor(driven: str, driver: str) -> float:
    """Allowance for the shocks of the driven machine and the driver, ISO method.

    Parameters
    ----------
    driven : {"smooth", "slight_shock", "moderate_shock"}
        Driven machine.
    driver : {"smooth", "slight_shock", "moderate_shock"}
        Driver.

    Returns
    -------
    float
        Factor f1 [-].

    Raises
    ------
    ValueError
        If a word is not in the table.

    Source
    ------
    ISO 10823 by way of a course-design text on roller chain drives to the GB/ISO method (12A example).

    Examples
    --------
    >>> iso_application_factor("slight_shock", "smooth")
    1.4
    """
    row = _row(ISO_APPLICATION_FACTORS, "driven", driven)
    if driver not in row:
        raise ValueError(f"`driver` must be one of {sorted(row)}, not {driver!r}.")
    return row[driver]


def design_power_kw(power_kw: float, *, service_factor: float, design_factor: float = 1.0) -> float:
    """Power that the chain must be rated for.

    Parameters
    ----------
    power_kw : float
        Power of the drive [kW], above 0.
    service_factor : float
        Ks [-], above 0.
    design_factor : float
        Further margin nd [-], above 0.

    Returns
    -------
    float
        Design power [kW].

    Raises
    ------
    ValueError
        If a value is not positive.

    Source
    ------
    Shigley, 9th ed., eq. 17-38: Hd = H Ks nd.

    Examples
    --------
    >>> design_power_kw(15, service_factor=1.4)
    21.0
    """
    margin = quantity("service_factor", service_factor) * quantity("design_factor", design_factor)
    return quantity("power_kw", power_kw) * margin


def allowable_power_kw(table_power_kw: float, *, tooth_factor: float, strand_factor: float) -> float:
    """Rating of a chain from the tabled rating of one strand at the base tooth count.

    Parameters
    ----------
    table_power_kw : float
        Tabled rating [kW], above 0.
    tooth_factor, strand_factor : float
        K1 and K2 [-], above 0.

    Returns
    -------
    float
        Rating [kW].

    Raises
    ------
    ValueError
        If a value is not positive.

    Source
    ------
    Shigley, 9th ed., eq. 17-37: Ha = K1 K2 Htab.

    Examples
    --------
    >>> allowable_power_kw(10, tooth_factor=1.0, strand_factor=1.7)
    17.0
    """
    factors = quantity("tooth_factor", tooth_factor) * quantity("strand_factor", strand_factor)
    return quantity("table_power_kw", table_power_kw) * factors


def _row(table: dict[str, Row], name: str, word: str) -> Row:
    if word not in table:
        raise ValueError(f"`{name}` must be one of {sorted(table)}, not {word!r}.")
    return table[word]
