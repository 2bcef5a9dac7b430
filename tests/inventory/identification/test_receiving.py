import pytest

from inventory.facts import Refusal
from inventory.identification.receiving import ReceivingCheck, judge_delivery, ordered_rim, receiving_check
from inventory.standards.chains import find_chain


def check_of(chain: str, teeth: int, strands: int = 1) -> ReceivingCheck:
    return receiving_check(ordered_rim(find_chain(chain), strands=strands), teeth)


def names(check: ReceivingCheck) -> list[str]:
    return [one.measurement for one in check.decisive]


def test_the_tooth_width_alone_separates_16b_from_80() -> None:
    """Source: 0.95 of the inner width 17.02 and 15.75 mm, h14 (ISO 606 as quoted in a printed transmission catalogue)."""
    check = check_of("16B", 21)

    assert names(check) == ["tooth_width_mm"]
    width = check.decisive[0]
    assert (width.least_mm, width.most_mm) == (
        pytest.approx(16.17 - 0.43 - 0.1, abs=0.01),
        pytest.approx(16.17 + 0.1, abs=0.01),
    )
    assert width.reason.values == {
        "measurement": "tooth_width_mm",
        "size_mm": 16.17,
        "look_alike": "16A",
        "look_alike_mm": 14.96,
    }


def test_the_gaps_separate_08b_from_40() -> None:
    """Source: rollers of 8.51 and 7.92 mm (ISO 606); the widths of the teeth are 0.09 mm apart."""
    assert "caliper_diameter_mm" in names(check_of("08B", 17))
    assert "caliper_diameter_mm" in names(check_of("40", 17))


def test_the_width_over_the_rows_separates_60h_from_60_duplex() -> None:
    """Source: transverse pitches of 26.11 and 22.78 mm."""
    assert names(check_of("60H", 21, 2)) == ["overall_width_mm"]


def test_no_smaller_set_of_measurements_separates_as_many() -> None:
    check = check_of("40", 17)
    alone = [judge_delivery(check, teeth=17, strands=1, read_mm={"tooth_width_mm": 7.25}).outcome]
    alone += [judge_delivery(check, teeth=17, strands=1, read_mm={"caliper_diameter_mm": 60.85}).outcome]
    both = judge_delivery(
        check, teeth=17, strands=1, read_mm={"tooth_width_mm": 7.25, "caliper_diameter_mm": 60.85}
    )

    assert alone == ["doubtful", "doubtful"]
    assert both.outcome == "passes"


def test_50_and_10b_of_one_row_are_not_told_apart_and_that_is_said() -> None:
    check = check_of("10B", 19)
    passed = judge_delivery(
        check, teeth=19, strands=1, read_mm={"tooth_width_mm": 8.9, "caliper_diameter_mm": 85.9}
    )

    assert "10A" in [rim.chain.designation for rim in check.not_told_apart]
    assert passed.outcome == "passes"
    assert passed.reasons[0].code == "look_alikes_not_told_apart"


def test_a_tooth_of_14_6_mm_is_an_80_and_no_16b() -> None:
    judged = judge_delivery(check_of("16B", 21), teeth=21, strands=1, read_mm={"tooth_width_mm": 14.6})

    assert judged.outcome == "something_else"
    assert judged.could_be[0].chain.designation == "16A"
    assert judged.reasons[0].code == "delivered_size_out_of_limits"


def test_a_size_of_no_rim_is_doubtful() -> None:
    judged = judge_delivery(check_of("16B", 21), teeth=21, strands=1, read_mm={"tooth_width_mm": 15.3})

    assert (judged.outcome, judged.could_be) == ("doubtful", ())


def test_what_is_missing_is_asked_for() -> None:
    judged = judge_delivery(check_of("16B", 21), teeth=21, strands=1, read_mm={})

    assert (judged.outcome, judged.missing) == ("doubtful", ("tooth_width_mm",))


@pytest.mark.parametrize(
    ("teeth", "strands", "code"), [(20, 1, "delivered_teeth_differ"), (21, 2, "delivered_strands_differ")]
)
def test_another_count_is_something_else_whatever_was_measured(teeth: int, strands: int, code: str) -> None:
    judged = judge_delivery(
        check_of("16B", 21), teeth=teeth, strands=strands, read_mm={"tooth_width_mm": 16.0}
    )

    assert judged.outcome == "something_else"
    assert judged.reasons[0].code == code


def test_every_new_rim_of_the_series_passes_its_own_check() -> None:
    """The sizes that tables print lie within their own limits, and separate nothing from itself."""
    for chain in ("06B", "08A", "10B", "12A", "16B", "20A", "24B", "32A"):
        check = check_of(chain, 19)
        read = {one.measurement: one.expected.size_mm for one in check.decisive}
        assert judge_delivery(check, teeth=19, strands=1, read_mm=read).outcome == "passes", chain


def test_a_chain_of_one_strand_has_no_rim_of_two_rows() -> None:
    with pytest.raises(Refusal) as refused:
        ordered_rim(find_chain("C2042"), strands=2)

    assert (refused.value.field, refused.value.fact.code) == ("strands", "chain_not_in_so_many_strands")


def test_a_bore_says_nothing_of_which_rim_came_instead() -> None:
    read_mm = {"tooth_width_mm": 7.2, "bore_mm": 25.0}
    judged = judge_delivery(check_of("08B", 19), teeth=17, strands=1, read_mm=read_mm)

    assert judged.outcome == "something_else"
    assert "08B" in [rim.chain.designation for rim in judged.could_be]
