import pytest

from inventory.standards.bushes import (
    UnknownBush,
    bush_substitution,
    bushes,
    find_bush,
    needs_shallow_key,
    shallow_key_seats,
)
from tests.inventory.standards.published import published

TORQUES = [pytest.param(row, id=row["size"]) for row in published("taper_bush_torques")]
PAIRS = [
    ("1210", "1215"),
    ("1610", "1615"),
    ("2517", "2525"),
    ("3020", "3030"),
    ("3525", "3535"),
    ("4030", "4040"),
    ("4535", "4545"),
    ("5040", "5050"),
]
TAPER = [bush for bush in bushes() if bush.series == "taper"]
QD = [bush for bush in bushes() if bush.series == "qd"]
INCH = 25.4


def bores(size, list_name, unit_system):
    (found,) = [
        row
        for row in find_bush(size).bore_ranges
        if (row.list_name, row.unit_system) == (list_name, unit_system)
    ]
    return found


@pytest.mark.parametrize("row", TORQUES)
def test_a_taper_bush_carries_the_printed_torque(row):
    bush = find_bush(row["size"])

    assert bush.torque_capacity_nm == float(row["torque_capacity_nm"]), row["source"]
    assert "torque_capacity_nm" not in bush.unseen_fields


def test_no_taper_bush_carries_a_torque_that_was_not_printed():
    assert {b.size for b in TAPER if b.torque_capacity_nm is not None} == {
        row.values[0]["size"] for row in TORQUES
    }


@pytest.mark.parametrize(("short", "long"), PAIRS)
def test_the_two_lengths_of_a_cone_agree_in_all_but_length(short, long):
    one, other = find_bush(short), find_bush(long)

    for field in ("large_end_diameter_mm", "bolt_circle_mm", "screw_count", "screw_size", "screw_torque_nm"):
        assert getattr(one, field) == getattr(other, field)
    assert one.length_mm < other.length_mm


@pytest.mark.parametrize(("short", "long"), PAIRS)
def test_the_two_lengths_of_a_cone_stand_in_for_each_other_on_conditions(short, long):
    for part, place in ((short, long), (long, short)):
        verdict = bush_substitution(part, place)
        assert verdict.outcome == "conditional"
        code = "longer_bush_in_hub" if part == long else "shorter_bush_in_hub"
        assert verdict.reason.code == code


def test_the_longer_bush_needs_room_and_the_shorter_one_leaves_bore_unsupported():
    longer, shorter = bush_substitution("3030", "3020").reason, bush_substitution("3020", "3030").reason

    assert (longer.code, longer.values["difference_mm"]) == ("longer_bush_in_hub", 25.4)
    assert (shorter.code, shorter.values["difference_mm"]) == ("shorter_bush_in_hub", 25.4)
    assert longer.values["large_end_mm"] == longer.values["hub_large_end_mm"] == 108.0


@pytest.mark.parametrize("bush", [pytest.param(bush, id=bush.size) for bush in bushes()])
def test_a_bush_stands_in_for_its_own_size(bush):
    assert bush_substitution(bush.size, bush.size).outcome == "same"


def test_every_other_pair_of_taper_bushes_is_refused():
    allowed = {pair for short, long in PAIRS for pair in ((short, long), (long, short))}

    for part in TAPER:
        for place in TAPER:
            if part.size != place.size and (part.size, place.size) not in allowed:
                assert bush_substitution(part.size, place.size).outcome == "no"


@pytest.mark.parametrize(
    ("part", "place", "code"),
    [
        ("1610", "SDS", "taper_and_qd_hubs_differ"),
        ("JA", "1008", "taper_and_qd_hubs_differ"),
        ("JA", "SH", "bush_cones_differ"),
        ("1008", "1108", "bush_cones_differ"),
    ],
)
def test_a_bush_of_another_cone_is_refused_with_a_reason(part, place, code):
    verdict = bush_substitution(part, place)

    assert verdict.outcome == "no"
    assert verdict.reason.code == code


def test_a_qd_pair_that_was_only_remembered_says_so():
    assert bush_substitution("SDS", "SD").confidence == "from memory"


@pytest.mark.parametrize("bush", [pytest.param(bush, id=bush.size) for bush in QD])
def test_unseen_qd_dimensions_are_not_given(bush):
    for field in ("length_mm", "large_end_diameter_mm", "bolt_circle_mm"):
        assert field in bush.unseen_fields
        assert getattr(bush, field) is None
    assert bush.bore_ranges == ()


def test_only_two_qd_torques_were_seen():
    # 1000 and 3500 lbf.in as printed on a dealer's page, times 0.112985.
    assert {b.size: b.torque_capacity_nm for b in QD if b.torque_capacity_nm} == {"JA": 113, "SH": 395.4}


@pytest.mark.parametrize("size", ["2525", "3030", "4030", "4040"])
def test_a_screw_that_differs_from_its_sheet_says_what_overruled_it(size):
    bush = next(bush for bush in TAPER if bush.size == size)

    assert "screw and torque sheets" in bush.source
    assert "overrule the dimension sheet" in bush.note


@pytest.mark.parametrize(("one", "other"), [("2517", "2525"), ("3020", "3030"), ("4030", "4040")])
def test_two_lengths_of_one_cone_have_one_screw(one, other):
    # The public sheets: large end, bolt circle, screws and torque are equal in each pair.
    screws = [next(bush for bush in TAPER if bush.size == size).screw_size for size in (one, other)]

    assert screws[0] == screws[1]


@pytest.mark.parametrize(
    ("size", "reversible"), [("JA", True), ("J", True), ("M", False), ("W", False), ("1610", None)]
)
def test_a_qd_bush_says_whether_it_may_be_mounted_in_reverse(size, reversible):
    assert find_bush(size).is_reverse_mountable is reversible


def test_every_field_listed_as_unseen_is_a_field():
    for bush in bushes():
        for field in bush.unseen_fields:
            assert hasattr(bush, field)


@pytest.mark.parametrize(
    ("size", "smallest_in", "largest_in"),
    [
        *(("1008", 3 / 8, 1), ("1108", 3 / 8, 1.125), ("1210", 1 / 2, 1.25), ("1215", 1 / 2, 1.25)),
        *(("1610", 1 / 2, 1.625), ("1615", 1 / 2, 1.625), ("2012", 3 / 4, 2), ("2517", 3 / 4, 2.5)),
        *(("3020", 1.25, 3), ("3030", 1.25, 3), ("3525", 1.5, 3.5), ("3535", 1.5, 3.5)),
        *(("4030", 1.75, 4), ("4040", 1.75, 4), ("4545", 2.25, 4.5), ("5040", 2.75, 5), ("5050", 2.75, 5)),
    ],
)
def test_inch_bores_are_those_of_the_printed_list(size, smallest_in, largest_in):
    found = bores(size, "European catalogue", "inch")

    assert (found.min_mm, found.max_mm) == pytest.approx((smallest_in * INCH, largest_in * INCH))
    assert found.is_confirmed


# Printed catalogue, taper-bush pages 111 and 112: smallest and largest bore, and the first one with a shallow key.
@pytest.mark.parametrize(
    ("size", "smallest", "largest", "first_shallow"),
    [
        *(("1008", 9, 25, 24), ("1108", 9, 28, 28), ("1210", 11, 32, None), ("1610", 14, 42, 42)),
        *(("1615", 14, 42, 42), ("2012", 14, 50, None), ("2517", 16, 65, 65), ("3020", 25, 75, None)),
        *(("3030", 35, 75, None), ("3525", 35, 90, None), ("3535", 35, 90, None), ("4030", 40, 100, None)),
        *(("4040", 40, 100, None), ("4545", 55, 100, None), ("5040", 70, 125, None), ("5050", 70, 125, None)),
    ],
)
def test_metric_bores_are_those_of_the_printed_list(size, smallest, largest, first_shallow):
    found = bores(size, "European catalogue", "metric")
    shallow = [seat.bore_mm for seat in shallow_key_seats() if seat.size == size and seat.bore_mm % 1 == 0]

    assert (found.min_mm, found.max_mm) == (smallest, largest)
    assert (found.max_shallow_key_mm is None) == (first_shallow is None)
    assert found.max_standard_key_mm < (first_shallow or largest + 1)
    assert min(shallow, default=None) == first_shallow


def test_bore_ranges_belong_to_a_list_and_not_to_a_size():
    printed, remembered = bores("2012", "European catalogue", "inch"), bores("2012", "US-style", "inch")

    assert (printed.min_mm, remembered.min_mm) == pytest.approx((0.75 * INCH, 0.5 * INCH))
    assert not remembered.is_confirmed


@pytest.mark.parametrize(("size", "catalogue", "page"), [("4545", 100, 120), ("5040", 125, 140)])
def test_two_lists_give_two_largest_metric_bores(size, catalogue, page):
    assert bores(size, "European catalogue", "metric").max_mm == catalogue
    assert bores(size, "trade page", "metric").max_mm == page


def test_1615_takes_an_inch_and_a_half_with_a_standard_key_and_an_eighth_more_with_a_shallow_one():
    found = bores("1615", "European catalogue", "inch")

    assert (found.max_standard_key_mm, found.max_shallow_key_mm) == pytest.approx((1.5 * INCH, 1.625 * INCH))


@pytest.mark.parametrize(
    ("size", "bore"),
    [
        ("1008", 24),
        ("1008", 25),
        ("1008", 25.4),
        ("1108", 28),
        ("1108", 28.575),
        ("1610", 42),
        ("1615", 42),
        ("1615", 41.275),
        ("2517", 65),
    ],
)
def test_a_bore_on_the_shallow_list_needs_a_shallow_key(size, bore):
    assert needs_shallow_key(size, bore) is True


@pytest.mark.parametrize(
    ("size", "bore"), [("1008", 20), ("1210", 32), ("1615", 38.1), ("2012", 50), ("2517", 60)]
)
def test_a_bore_well_inside_the_list_takes_the_standard_key(size, bore):
    assert needs_shallow_key(size, bore) is False


@pytest.mark.parametrize(
    ("size", "bore"),
    [("1610", 41.275), ("3525", 100), ("4030", 115), ("1310", 20), ("SDS", 25), ("1210", 32.05), ("1008", 8)],
)
def test_it_does_not_guess_where_the_lists_do_not_settle_it(size, bore):
    assert needs_shallow_key(size, bore) is None


def test_the_two_sheets_that_disagree_on_a_shallow_depth_are_both_shown():
    seats = {(seat.size, seat.bore_mm): seat for seat in shallow_key_seats()}

    assert seats["1610", 42].hub_depths_mm == (1.3, 2.2)
    assert seats["2517", 65].hub_depths_mm == (2.8,)


@pytest.mark.parametrize("bush", [pytest.param(bush, id=bush.size) for bush in TAPER])
def test_screw_torques_of_metric_and_inch_sheets_agree_up_to_3535_and_part_above(bush):
    if bush.screw_torque_us_nm is None:
        return
    ratio = bush.screw_torque_us_nm / bush.screw_torque_nm

    assert (ratio < 1.13) == (bush.size <= "3535")


def test_the_size_is_a_code_and_not_the_length():
    assert [find_bush(size).length_mm for size in ("1008", "2517", "2012")] == [22.2, 44.5, 31.8]


def test_a_bush_is_found_in_any_case():
    assert find_bush(" sds ").size == "SDS"


def test_it_refuses_an_unknown_bush_and_names_some_that_look_alike():
    with pytest.raises(UnknownBush, match="`size` must be a known bush size, got '1611'; nearest sizes: 161"):
        find_bush("1611")


def test_it_refuses_a_bore_that_is_no_size():
    with pytest.raises(ValueError, match=r"`bore_mm` must be (more than 0|finite), not"):
        needs_shallow_key("1008", float("nan"))
