import dataclasses

import pytest

from inventory.standards.chains import UnknownChain, chains, find_chain
from inventory.standards.table_rows import CONFIRMED
from tests.inventory.standards.published import published

EDITION_1994 = "ISO 606:1994"
ISO_606 = [pytest.param(row, id=row["chain"]) for row in published("iso_606_1994")]
LARGE_B = ("16B", "20B", "24B", "28B", "32B", "40B", "48B", "56B", "64B", "72B")


def strength(chain, edition):
    (found,) = [row for row in chain.tensile_strengths if row.edition == edition]
    return found


@pytest.mark.parametrize("row", ISO_606)
def test_plate_height_and_transverse_pitch_are_those_of_iso_606_1994(row):
    chain = find_chain(row["chain"])

    assert chain.plate_height_mm == float(row["plate_height_mm"])
    assert chain.transverse_pitch_mm == float(row["transverse_pitch_mm"])
    assert not {"plate_height_mm", "transverse_pitch_mm"} & chain.from_memory_fields


@pytest.mark.parametrize("row", ISO_606)
def test_the_1994_strength_is_kept_apart_from_other_editions(row):
    found = strength(find_chain(row["chain"]), EDITION_1994)

    assert (found.value_kn, found.strands) == (float(row["tensile_strength_kn"]), 1)
    assert found.confidence in CONFIRMED


@pytest.mark.parametrize("name", LARGE_B)
def test_a_large_b_chain_is_much_weaker_in_the_1994_edition_than_makers_print(name):
    chain = find_chain(name)
    printed = strength(chain, "makers' printed minimum").value_kn

    assert printed / strength(chain, EDITION_1994).value_kn > 1.3


@pytest.mark.parametrize(
    "name", ["05B", "06B", "08B", "10B", "12B", "08A", "10A", "12A", "16A", "40A", "48A"]
)
def test_smaller_b_and_all_a_chains_agree_between_editions(name):
    values = [row.value_kn for row in find_chain(name).tensile_strengths if "maker" not in row.edition]

    assert max(values) / min(values) < 1.01


def test_no_strength_is_made_up_for_several_strands():
    assert {row.strands for chain in chains() for row in chain.tensile_strengths} == {1}


def test_a_remembered_strength_does_not_pass_for_a_confirmed_one():
    remembered = strength(find_chain("081"), "ISO 606, edition not stated")

    assert remembered.confidence not in CONFIRMED


def test_no_two_chains_share_a_name():
    names = [name for chain in chains() for name in chain.names]

    assert len(names) > len(chains())
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("text", "designation"),
    [
        ("08A", "08A"),
        ("40", "08A"),
        ("#40", "08A"),
        ("No. 40", "08A"),
        ("no 40", "08A"),
        ("08b", "08B"),
        ("08 B", "08B"),
        ("08-B", "08B"),
        ("C-2042", "C208AL"),
        ("c 2042", "C208AL"),
        ("41", "085"),
        ("60H", "12AH"),
        ("40H", "40H"),
        ("08AH", "40H"),
        ("35h", "35H"),
        ("428", "428"),
        ("04B", "04B"),
        (" 081 ", "081"),
    ],
)
def test_a_chain_is_found_by_any_of_its_names(text, designation):
    assert find_chain(text).designation == designation


@pytest.mark.parametrize("text", ["08-1", "08B-1", "60-2", "ANSI 40", "", "40A40", "#", "41H"])
def test_it_refuses_a_name_that_no_chain_carries(text):
    with pytest.raises(UnknownChain) as refusal:
        find_chain(text)

    assert (refusal.value.fact.code, refusal.value.field) == ("chain_not_known", "chain")
    assert refusal.value.fact.values["designation"] == text


def test_the_refusal_lists_at_most_three_names_that_look_alike():
    with pytest.raises(UnknownChain) as refusal:
        find_chain("C2043")

    nearest = refusal.value.fact.values["nearest"]
    assert "C2042" in nearest
    assert len(nearest) == 3


@pytest.mark.parametrize(
    ("name", "pitch_mm", "pitch_in"),
    [
        ("15", 4.7625, 0.1875),
        ("25", 6.35, 0.25),
        ("35", 9.525, 0.375),
        ("06B", 9.525, 0.375),
        ("50", 15.875, 0.625),
        ("630", 19.05, 0.75),
        ("180", 57.15, 2.25),
        ("C2160", 101.6, 4.0),
    ],
)
def test_a_pitch_is_the_exact_inch_value(name, pitch_mm, pitch_in):
    chain = find_chain(name)

    assert chain.pitch_mm == pitch_mm == round(pitch_in * 25.4, 4)


@pytest.mark.parametrize("name", ["04B", "05B"])
def test_a_metric_pitch_is_not_bent_to_an_inch_one(name):
    assert find_chain(name).pitch_mm in (6.0, 8.0)
    assert find_chain(name).pitch_mm / 25.4 * 16 % 1 != 0


def test_a_heavy_chain_keeps_the_rim_of_its_base_and_moves_the_strands_apart():
    heavy, base = find_chain("60H"), find_chain("60")

    assert heavy.base_chain == base.designation
    assert (heavy.pitch_mm, heavy.roller_diameter_mm, heavy.inner_width_mm) == (
        base.pitch_mm,
        base.roller_diameter_mm,
        base.inner_width_mm,
    )
    assert (heavy.transverse_pitch_mm, base.transverse_pitch_mm) == (26.11, 22.78)


@pytest.mark.parametrize("name", ["40H", "60H", "80H", "208A", "216B", "C2080H", "C208BL", "C2160"])
def test_a_base_chain_is_named_as_the_table_names_it(name):
    base = find_chain(name).base_chain

    assert find_chain(base).designation == base


@pytest.mark.parametrize(
    ("name", "claims"),
    [
        ("40", ()),
        ("41", ("is_simplex_only",)),
        ("081", ("is_simplex_only",)),
        ("2040", ("is_double_pitch", "is_simplex_only")),
        ("C2042", ("is_double_pitch", "is_simplex_only", "has_large_rollers")),
        ("C2062H", ("is_double_pitch", "is_simplex_only", "has_large_rollers")),
    ],
)
def test_the_kind_of_chain_reads_as_claims(name, claims):
    every = ("is_simplex_only", "is_double_pitch", "has_large_rollers")

    assert {claim for claim in every if getattr(find_chain(name), claim)} == set(claims)


@pytest.mark.parametrize("base", ["08A", "10A", "12A", "16A", "20A", "24A", "08B", "12B", "16B", "32B"])
def test_a_double_pitch_transmission_chain_differs_from_its_base_in_pitch_only(base):
    double, single = find_chain("2" + base), find_chain(base)

    assert double.pitch_mm == pytest.approx(2 * single.pitch_mm)
    assert double.roller_diameter_mm == single.roller_diameter_mm
    assert double.inner_width_mm == single.inner_width_mm


@pytest.mark.parametrize("name", ["C2160", "C2162", "425", "25"])
def test_a_rim_dimension_that_was_only_remembered_is_not_confirmed(name):
    assert not find_chain(name).is_confirmed


def test_the_180_roller_is_not_the_swapped_figure_that_pages_copy():
    assert find_chain("180").roller_diameter_mm == pytest.approx(1.406 * 25.4, abs=0.01)


def test_the_160_and_32b_strands_lie_equally_far_apart_though_the_rollers_differ():
    asme, iso = find_chain("160"), find_chain("32B")

    assert asme.transverse_pitch_mm == iso.transverse_pitch_mm
    assert iso.roller_diameter_mm - asme.roller_diameter_mm == pytest.approx(0.63)


@pytest.mark.parametrize(
    ("name", "standard"),
    [
        ("40", "ISO 606 / ASME B29.1"),
        ("04B", "DIN 8187"),
        ("08B", "ISO 606 / DIN 8187"),
        ("2040", "ISO 1275 / ASME B29.3"),
        ("208B", "ISO 1275"),
        ("428", "trade number"),
        ("40H", "trade number"),
        ("60H", "ASME B29.1"),
    ],
)
def test_the_standard_is_stated_as_far_as_it_is_known(name, standard):
    assert find_chain(name).standard == standard


def test_a_row_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        find_chain("40").pitch_mm = 1.0


def test_rows_are_read_once():
    assert chains() is chains()
