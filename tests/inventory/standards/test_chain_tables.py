"""Every row of the chain tables against what somebody printed, or against the law by which the standard makes it."""

import math
import re
from itertools import pairwise

import pytest

from inventory.standards.bushes import find_bush
from inventory.standards.chains import chains, find_chain
from tests.inventory.standards.published import MM_PER_INCH, inches

N_PER_LBF = 4.4482216152605
# A page of dimensions in inches: number, pitch, roller, width, pin (one-page note "Standard roller chain dimensions").
PAGE_OF_DIMENSIONS = """
    25  | 1/4   | .130    | 1/8     | .0905
    35  | 3/8   | .200    | 3/16    | .141
    41  | 1/2   | .306    | 1/4     | .141
    40  | 1/2   | 5/16    | 5/16    | .156
    50  | 5/8   | .400    | 3/8     | .200
    60  | 3/4   | 15/32   | 1/2     | .234
    80  | 1     | 5/8     | 5/8     | .312
    100 | 1 1/4 | 3/4     | 3/4     | .375
    120 | 1 1/2 | 7/8     | 1       | .437
    140 | 1 3/4 | 1       | 1       | .500
    160 | 2     | 1 1/8   | 1 1/4   | .562
    180 | 2 1/4 | 1 13/32 | 1 13/32 | .687
    200 | 2 1/2 | 1 9/16  | 1 1/2   | .781
    240 | 3     | 1 7/8   | 1 7/8   | .937
"""
PRINTED = [[cell.strip() for cell in line.split("|")] for line in PAGE_OF_DIMENSIONS.strip().splitlines()]
PRINTED_DIMENSIONS = [pytest.param(*row, id=row[0]) for row in PRINTED]
# The page rounds to thousandths of an inch or to sixty-fourths.
ROUNDING_MM = 0.03
HEAVY = [chain for chain in chains() if chain.series == "H"]
DOUBLE_PITCH = [chain for chain in chains() if chain.is_double_pitch]
STRENGTHS = [(chain, row) for chain in chains() for row in chain.tensile_strengths]


def by_name(found):
    return [pytest.param(chain, id=chain.designation) for chain in found]


@pytest.mark.parametrize(("number", "pitch", "roller", "width", "pin"), PRINTED_DIMENSIONS)
def test_the_dimensions_are_those_of_the_printed_page(number, pitch, roller, width, pin):
    chain = find_chain(number)

    assert chain.pitch_mm == pytest.approx(inches(pitch) * MM_PER_INCH)
    assert chain.roller_diameter_mm == pytest.approx(inches(roller) * MM_PER_INCH, abs=ROUNDING_MM)
    assert chain.inner_width_nominal_in == pytest.approx(inches(width), abs=0.001)
    assert chain.pin_diameter_mm == pytest.approx(inches(pin) * MM_PER_INCH, abs=ROUNDING_MM)


@pytest.mark.parametrize("chain", by_name(HEAVY))
def test_a_heavy_chain_has_the_rim_and_the_pin_of_its_base(chain):
    """ASME B29.1: the heavy series differs in its plates. Lists of 35H and 40H are of another edition than the base."""
    base = find_chain(chain.base_chain)
    edition_mm = 0.1 if chain.designation in ("35H", "40H") else 0.0

    assert chain.pitch_mm == base.pitch_mm
    assert chain.roller_diameter_mm == pytest.approx(base.roller_diameter_mm, abs=edition_mm)
    assert chain.inner_width_mm == pytest.approx(base.inner_width_mm, abs=edition_mm)
    assert chain.transverse_pitch_mm is None or chain.transverse_pitch_mm > base.transverse_pitch_mm


@pytest.mark.parametrize("chain", by_name(DOUBLE_PITCH))
def test_a_double_pitch_chain_is_made_of_the_parts_of_its_base(chain):
    """ISO 1275: twice the pitch, and the rollers and widths of the chain of ISO 606, of 08A from another edition."""
    base = find_chain(chain.base_chain)

    assert chain.pitch_mm == pytest.approx(2 * base.pitch_mm)
    assert chain.inner_width_mm == base.inner_width_mm
    if not chain.has_large_rollers:
        assert chain.roller_diameter_mm == pytest.approx(base.roller_diameter_mm, abs=0.031)


# ASME B29.4, large rollers in inches (from memory); ISO 1275 has the same for both series.
@pytest.mark.parametrize(
    ("base", "roller"),
    [
        *(("08", "5/8"), ("10", "3/4"), ("12", "7/8"), ("16", "1 1/8")),
        *(("20", "1 9/16"), ("24", "1 3/4"), ("32", "2 1/4")),
    ],
)
def test_large_rollers_have_the_size_of_their_base_in_inches(base, roller):
    alike = [c for c in DOUBLE_PITCH if c.has_large_rollers and c.designation[2:4] == base]

    assert alike
    for chain in alike:
        assert chain.roller_diameter_mm == pytest.approx(inches(roller) * MM_PER_INCH, abs=ROUNDING_MM)


@pytest.mark.parametrize(
    ("chain", "row"),
    [
        pytest.param(chain, row, id=chain.designation)
        for chain, row in STRENGTHS
        if row.edition == "ASME B29.1"
    ],
)
def test_the_asme_strength_is_12500_pounds_by_the_square_of_the_pitch(chain, row):
    """ASME B29.1, least ultimate tensile strength, in lbf with the pitch in inches; 1,500 lbf for No. 41. The law is from memory."""
    printed_lbf = 1500 if chain.asme_designation == "41" else 12_500 * (chain.pitch_mm / MM_PER_INCH) ** 2

    assert row.value_kn == pytest.approx(printed_lbf * N_PER_LBF / 1000, abs=0.05, rel=0.001)


@pytest.mark.parametrize("chain", by_name(chain for chain in chains() if len(chain.tensile_strengths) > 1))
def test_lists_of_one_chain_agree_where_no_edition_parts_them(chain):
    """Large B chains are weaker in the edition of 1994. The sources of 05B and No. 41 differ, and the table says so."""
    values = [row.value_kn for row in chain.tensile_strengths if row.edition != "ISO 606:1994"]
    most = {"05B": 1.14, "085": 1.2}.get(chain.designation, 1.045)

    assert max(values) / min(values) <= most


@pytest.mark.parametrize(
    "chain", by_name(c for c in (*HEAVY, *DOUBLE_PITCH) if c.tensile_strengths and c.designation != "36AH")
)
def test_heavier_plates_or_twice_the_pitch_leave_the_strength_of_a_list_as_it_is(chain):
    """ISO 1275 and ASME B29.1 take the least strengths over from the base chain; no list of 36A was seen beside 36AH."""
    of_base = {row.edition: row.value_kn for row in find_chain(chain.base_chain).tensile_strengths}

    for row in chain.tensile_strengths:
        # For a large B chain the list of no stated edition is that of two makers.
        of_makers = of_base.get("makers' printed minimum")
        assert row.value_kn == of_base.get(row.edition.removeprefix("base chain, "), of_makers)


@pytest.mark.parametrize(
    "edition", ["maker's printed minimum", "ISO 606, edition not stated", "ISO 606:1994"]
)
@pytest.mark.parametrize("series", ["A", "B"])
def test_in_one_list_a_larger_chain_is_the_stronger_one(series, edition):
    values = [
        row.value_kn
        for chain, row in STRENGTHS
        if (chain.series, row.edition) == (series, edition) and chain.designation != "085"
    ]

    assert len(values) > 4
    assert values == sorted(values)


@pytest.mark.parametrize("series", ["A", "B"])
@pytest.mark.parametrize("field", ["pin_diameter_mm", "plate_height_mm", "roller_diameter_mm"])
def test_in_one_series_a_chain_of_more_pitch_has_larger_parts(series, field):
    of_series = [chain for chain in chains() if chain.series == series and chain.designation != "085"]
    sizes = [getattr(chain, field) for chain in of_series if getattr(chain, field) is not None]

    assert len(sizes) > 10
    assert all(smaller < larger for smaller, larger in pairwise(sizes))


DIFFERENCES = [
    pytest.param(chain, error, id=f"{chain.designation} {error.field}")
    for chain in chains()
    for error in chain.plausible_errors
    if "the difference, rounded up" in error.note
]


@pytest.mark.parametrize(("chain", "error"), DIFFERENCES)
def test_a_plausible_error_is_the_difference_that_its_note_names(chain, error):
    (named,) = re.findall(r"(?:has|give) (\d+(?:\.\d+)?) mm", error.note)
    difference = abs(getattr(chain, error.field) - float(named))

    assert error.error_mm == pytest.approx(math.ceil(round(difference, 4) * 10) / 10)


def test_a_large_roller_is_as_doubtful_as_the_small_one_it_was_taken_from():
    doubts = {
        name: {error.field: error.error_mm for error in find_chain(name).plausible_errors}
        for name in ("C2160", "C2162", "C2160H", "C2162H")
    }

    assert all(one == doubts["C2160"] for one in doubts.values())


# Installation sheet of a maker, 2010: tightening torque of the screws in lbf.in.
@pytest.mark.parametrize(
    ("size", "printed_lbf_in"),
    [
        *(("JA", 60), ("SH", 108), ("SDS", 108), ("SD", 108), ("SK", 180), ("SF", 360)),
        *(("E", 720), ("F", 900), ("J", 1620), ("M", 2700), ("N", 3600), ("P", 5400)),
    ],
)
def test_the_screws_of_a_flanged_bush_have_the_printed_torque(size, printed_lbf_in):
    newton_metres = printed_lbf_in * N_PER_LBF * MM_PER_INCH / 1000

    assert find_bush(size).screw_torque_nm == pytest.approx(newton_metres, abs=0.06)
    assert re.fullmatch(r"[#0-9/]+-\d+", find_bush(size).screw_size)
