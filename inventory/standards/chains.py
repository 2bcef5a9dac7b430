"""Roller chains by designation: dimensions, strengths by edition, and what was not seen in print."""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from inventory.facts import Refusal, fact
from inventory.standards.confidence import KIND_OF_WORD, SourceKind
from inventory.standards.table_rows import table_rows, value_of_row, words

NEAREST_NAMES = 3
LONGEST_SHOWN = 20
RIM_FIELDS = frozenset({"pitch_mm", "roller_diameter_mm", "inner_width_mm"})
"""Dimensions that decide whether one row of teeth carries the chain."""


class UnknownChain(Refusal):
    """No chain of this designation is in the table."""


@dataclass(frozen=True, slots=True)
class TensileStrength:
    """Least tensile strength of a chain, with the edition or list that requires it."""

    strands: int
    value_kn: float
    edition: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class PlausibleError:
    """How far a dimension may be off that no source shows, or on which the sources disagree."""

    field: str
    error_mm: float
    kind: SourceKind
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class Chain:
    """One chain size; lengths in mm, `inner_width_nominal_in` in inches."""

    designation: str
    asme_designation: str | None
    other_designations: tuple[str, ...]
    standard: str
    series: str
    base_chain: str | None
    pitch_mm: float
    roller_diameter_mm: float
    inner_width_mm: float
    inner_width_nominal_in: float | None
    pin_diameter_mm: float | None
    plate_height_mm: float | None
    transverse_pitch_mm: float | None
    tensile_strengths: tuple[TensileStrength, ...]
    roller_kind: str
    is_simplex_only: bool
    source: str
    confidence: str
    from_memory_fields: frozenset[str]
    plausible_errors: tuple[PlausibleError, ...]
    note: str

    @property
    def names(self) -> tuple[str, ...]:
        """Every designation that finds this chain, the preferred one first."""
        asme = (self.asme_designation,) if self.asme_designation else ()
        return tuple(dict.fromkeys((self.designation, *asme, *self.other_designations)))

    @property
    def is_double_pitch(self) -> bool:
        return self.series.startswith("double-pitch")

    @property
    def has_large_rollers(self) -> bool:
        return self.roller_kind == "large roller"

    @property
    def is_confirmed(self) -> bool:
        """Whether pitch, roller and inner width were all read in a source."""
        return not RIM_FIELDS & self.from_memory_fields


@cache
def _plausible_errors() -> dict[str, tuple[PlausibleError, ...]]:
    grouped: dict[str, tuple[PlausibleError, ...]] = {}
    for row in table_rows("plausible_errors"):
        kind, error_mm = KIND_OF_WORD[row["confidence"]], float(row["plausible_error_mm"])
        error = value_of_row(PlausibleError, row, kind=kind, error_mm=error_mm)
        grouped[row["chain"]] = (*grouped.get(row["chain"], ()), error)
    return grouped


def _chain(row: dict[str, str]) -> Chain:
    strengths = [one for one in table_rows("tensile_strengths") if one["chain"] == row["designation"]]
    return value_of_row(
        Chain,
        row,
        asme_designation=row["designation_asme"] or None,
        other_designations=words(row["designations_other"]),
        tensile_strengths=tuple(
            value_of_row(TensileStrength, one, value_kn=float(one["tensile_strength_kn"]))
            for one in strengths
        ),
        plausible_errors=_plausible_errors().get(row["designation"], ()),
        is_simplex_only=row["simplex_only"] == "yes",
    )


@cache
def chains() -> tuple[Chain, ...]:
    """Every chain of the table, read once; each row names its source."""
    return tuple(_chain(row) for row in table_rows("chains"))


def _plain(designation: str) -> str:
    """Upper case without the number sign, and without space or dash beside a letter.

    A dash between two figures is kept, because "08-1" is a strand count and not chain 081.
    """
    text = re.sub(r"^(?:NO\.?|#)\s*(?=\d)", "", designation.strip().upper())
    return re.sub(r"(?<=[A-Z])[\s-]+|[\s-]+(?=[A-Z])", "", text)


@cache
def _by_name() -> dict[str, Chain]:
    named: dict[str, Chain] = {}
    for chain in chains():
        for name in chain.names:
            if _plain(name) in named:
                raise RuntimeError(f"designation {name} is in the table of chains twice")
            named[_plain(name)] = chain
    return named


def find_chain(designation: str) -> Chain:
    """The one chain that carries this ISO, ASME or other name; a strand count is not part of it.

    Case, spaces and dashes beside letters do not matter; a leading ``No.`` or ``#`` is allowed.

    >>> find_chain("No. 40").designation, find_chain("08b").roller_diameter_mm
    ('08A', 8.51)
    """
    plain = _plain(designation)
    chain = _by_name().get(plain)
    if chain is not None:
        return chain
    nearest = get_close_matches(plain, list(_by_name()), n=NEAREST_NAMES, cutoff=0.5)
    unknown = fact("chain_not_known", designation=designation[:LONGEST_SHOWN], nearest=tuple(nearest))
    raise UnknownChain(unknown, field="chain")
