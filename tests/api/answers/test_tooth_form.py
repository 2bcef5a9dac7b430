import pytest

pytestmark = pytest.mark.django_db


def form(client, chain="12B", **query):
    return client.get(f"/api/v1/chains/{chain}/tooth-form/", query)


def test_it_agrees_with_a_published_worked_sheet(as_viewer):
    # Worked calculation sheet for GB/T 1243 (= ISO 606) sprockets, 12B, 20 teeth.
    answer = form(as_viewer, teeth=20).json()

    assert answer["pitch_diameter_mm"] == pytest.approx(121.78, abs=0.02)
    assert answer["outside_diameter_max_mm"] == pytest.approx(133.52, abs=0.02)
    assert answer["outside_diameter_min_mm"] == pytest.approx(127.23, abs=0.02)


def test_odd_teeth_read_less_over_the_bottoms_than_even(as_viewer):
    even, odd = form(as_viewer, teeth=20).json(), form(as_viewer, teeth=21).json()

    assert even["caliper_diameter_mm"] == even["root_diameter_mm"]
    assert odd["caliper_diameter_mm"] < odd["root_diameter_mm"]


def test_several_strands_are_as_wide_as_their_rows(as_viewer):
    single, double = form(as_viewer, teeth=20).json(), form(as_viewer, teeth=20, strands=2).json()

    assert single["width_over_strands_mm"] == single["tooth_width_mm"]
    assert double["width_over_strands_mm"] == pytest.approx(19.46 + double["tooth_width_mm"])


def test_it_says_which_hub_rule_it_used(as_viewer):
    assert "ISO" in form(as_viewer, teeth=20).json()["max_hub_diameter_rule"]


@pytest.mark.parametrize("teeth", ["5", "401", "17.5", "NaN", "1e2", "-17", ""])
def test_impossible_teeth_are_refused_by_name(as_viewer, teeth):
    answer = form(as_viewer, teeth=teeth)

    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"] == "/teeth"


def test_two_bad_parameters_are_both_named(as_viewer):
    answer = form(as_viewer, teeth="3", strands="0")

    assert {row["pointer"] for row in answer.json()["errors"]} == {"/teeth", "/strands"}
