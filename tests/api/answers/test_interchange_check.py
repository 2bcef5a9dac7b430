from copy import deepcopy
from decimal import Decimal

import pytest

from tests import factories

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/interchange/check/"
REQUIRED = {
    "chain": "08B",
    "strands": 1,
    "teeth": 17,
    "role": "driver",
    "shaft": {"kind": "keyed", "diameter_mm": 25, "key_width_mm": 8, "bush_size": None},
    "hub_style": "B",
    "material": "carbon_steel",
    "hardened_teeth": False,
    "environment": ["clean_dry"],
    "envelope": {"outside_diameter_mm": 90, "hub_diameter_mm": 60, "length_through_bore_mm": 30},
    "duty": {
        "power_kw": 1.1,
        "speed_rpm": 500,
        "lifting": False,
        "service_factor": 1.4,
        "mating_teeth": 51,
        "centre_distance_mm": 500,
        "centre_adjustment_mm": [-10, 10],
        "ratio_tolerance_percent": 2,
    },
}
OFFERED = {
    "chain": "08B",
    "teeth": 17,
    "strands": 1,
    "hub_style": "B",
    "bore_type": "plain",
    "bore_mm": 12,
    "max_bore_mm": 28,
    "hub_diameter_mm": 52,
    "length_through_bore_mm": 28,
    "material": "carbon_steel",
}


def check(client, required=REQUIRED, offered=OFFERED):
    return client.post(ADDRESS, {"required": required, "offered": offered}, format="json")


def outcomes(answer):
    return {row["aspect"]: row["outcome"] for row in answer.json()["checks"]}


def pointers(answer):
    assert answer.status_code == 400, answer.content
    return {row["pointer"] for row in answer.json()["errors"]}


def test_a_pilot_bore_is_bored_slotted_and_drilled(as_viewer):
    answer = check(as_viewer).json()

    assert answer["grade"] == "with_work"
    assert [step["operation"] for step in answer["work"]] == ["bore", "cut_keyseat", "drill_set_screws"]
    assert answer["work_minutes"] == sum(step["minutes"] for step in answer["work"])


def test_every_aspect_that_applies_stands_in_a_fitters_order(as_viewer):
    order = [
        "chain",
        "strands",
        "teeth",
        "mounting",
        "key",
        "hub",
        "envelope",
        "material",
        "tooth_hardness",
        "rating",
        "duty",
    ]

    assert [row["aspect"] for row in check(as_viewer).json()["checks"]] == order


def test_each_finding_says_what_by_how_much_and_by_which_source(as_viewer):
    for row in check(as_viewer).json()["checks"]:
        assert row["explanation"].endswith(".")
        assert row["source"]
        assert {"required", "offered", "limit", "margin"} <= set(row)


def test_an_asme_number_is_understood_and_is_not_the_iso_chain_beside_it(as_viewer):
    answer = check(as_viewer, offered={**OFFERED, "chain": "40"})

    assert answer.json()["grade"] == "unfit"
    assert outcomes(answer)["chain"] == "no"
    assert "8.51" in answer.json()["checks"][0]["explanation"]


def test_what_was_not_looked_at_is_named(as_viewer):
    answer = check(as_viewer).json()

    assert answer["unchecked"] == ["chain_wear"]
    assert answer["unchecked_reasons"][0]["explanation"]


def test_a_place_known_by_half_still_gets_an_answer(as_viewer):
    answer = check(as_viewer, required={"chain": "08B", "teeth": 17})

    assert answer.json()["grade"] == "needs_review"
    assert {"mounting", "rating", "duty"} <= set(answer.json()["unchecked"])


def test_consequences_name_their_units(as_viewer):
    consequences = check(as_viewer).json()["consequences"]

    assert consequences["driven_speed_rpm"] == pytest.approx(500 * 17 / 51, abs=0.001)
    assert consequences["ratio_change_percent"] == 0
    assert 0.3 < consequences["rating_utilisation"] < 1


def test_sides_may_be_references(as_viewer):
    item = factories.ItemFactory()
    position = factories.PositionFactory()

    for required in (
        {"position": position.tag},
        {"item": item.stock_number},
        {"specification": item.specification_id},
    ):
        answer = check(as_viewer, required, {"item": item.stock_number})
        assert answer.status_code == 200, answer.content
    assert answer.json()["grade"] == "drop_in"


def test_what_a_position_borrows_from_its_last_unit_is_named(as_viewer):
    place, item = factories.PositionFactory(teeth=None), factories.ItemFactory()
    silent = check(as_viewer, {"position": place.tag}, {"item": item.stock_number}).json()
    factories.InstallationFactory(position=place, item=item)

    answer = check(as_viewer, {"position": place.tag}, {"item": item.stock_number}).json()

    assert (silent["notes"], silent["grade"]) == ([], "needs_review")
    assert answer["grade"] == "drop_in"
    [note] = answer["notes"]
    assert (note["code"], note["values"]["item"]) == ("requirement_taken_from_fitted_unit", item.stock_number)
    assert note["values"]["attributes"] == ["teeth"]


def test_the_same_part_is_a_drop_in_for_itself(as_viewer):
    item = factories.ItemFactory(specification=factories.BushedSprocketFactory())

    answer = check(as_viewer, {"item": item.stock_number}, {"item": item.stock_number})

    assert answer.json()["grade"] == "drop_in"


def test_a_bushed_item_is_nothing_without_its_bush_on_a_shelf(as_viewer):
    bushed = factories.ItemFactory(specification=factories.BushedSprocketFactory(teeth=17))
    without = check(as_viewer, offered={"item": bushed.stock_number})
    factories.stock(factories.BushItemFactory(), factories.StoreroomFactory(), 1)
    with_bush = check(as_viewer, offered={"item": bushed.stock_number})

    assert outcomes(without)["mounting"] == "no"
    assert outcomes(with_bush)["mounting"] == "work"


def test_it_uses_the_minutes_that_the_plant_recorded(as_viewer):
    factories.ShopTimeFactory(operation="bore", minutes=77)

    assert check(as_viewer).json()["work"][0]["minutes"] == 77


def test_minutes_say_whether_the_plant_recorded_them(as_viewer):
    factories.ShopTimeFactory(operation="bore", minutes=77, basis="recorded")
    answer = check(as_viewer).json()

    assert [step["basis"] for step in answer["work"]] == ["recorded", "estimate", "estimate"]
    assert answer["work_basis"] == "estimate"


def test_what_no_source_shows_is_named_and_a_rule_of_the_plant_settles_it(as_viewer):
    idler = {"role": "idler", "teeth": 20, "shaft": {"kind": "pin", "diameter_mm": 25}}
    required = {name: value for name, value in REQUIRED.items() if name != "duty"} | idler
    offered = {"chain": "08B", "strands": 1, "hub_style": "B", "bore_type": "bearing", "bore_mm": 25}
    offered |= {"teeth": 18, "length_through_bore_mm": 28, "hub_diameter_mm": 45, "material": "carbon_steel"}

    before = check(as_viewer, required, offered).json()
    factories.RuleFactory(name="idler_least_teeth", value=17)
    after = check(as_viewer, required, offered).json()

    (teeth,) = (row for row in before["checks"] if row["aspect"] == "teeth")
    assert (before["grade"], teeth["outcome"]) == ("needs_review", "review")
    span = {"name": "idler_least_teeth", "of": None, "value": 17, "low": 15, "high": 19, "kind": "memory"}
    assert {"code": "rests_on_estimate", "values": span} in teeth["further"]
    assert after["grade"] == "drop_in"


@pytest.mark.parametrize(
    ("side", "path", "value", "pointer"),
    [
        ("required", ("teeth",), 5, "/required/teeth"),
        ("required", ("teeth",), 401, "/required/teeth"),
        ("offered", ("teeth",), 17.5, "/offered/teeth"),
        ("required", ("chain",), "09Q", "/required/chain"),
        ("offered", ("strands",), 0, "/offered/strands"),
        ("required", ("shaft", "diameter_mm"), -25, "/required/shaft/diameter_mm"),
        ("required", ("shaft", "kind"), "square", "/required/shaft/kind"),
        ("required", ("shaft", "diametre_mm"), 25, "/required/shaft/diametre_mm"),
        ("required", ("duty", "power_kw"), 0, "/required/duty/power_kw"),
        ("required", ("duty", "centre_adjustment_mm"), [10, -10], "/required/duty/centre_adjustment_mm"),
        ("required", ("environment",), ["tropical"], "/required/environment/0"),
        ("offered", ("bore_mm",), "25", "/offered/bore_mm"),
        ("offered", ("max_bore_mm",), 8, "/offered/max_bore_mm"),
        ("offered", ("colour",), "green", "/offered/colour"),
    ],
)
def test_a_bad_member_is_named_wherever_it_stands(as_viewer, side, path, value, pointer):
    body = {"required": deepcopy(REQUIRED), "offered": deepcopy(OFFERED)}
    place = body[side]
    for name in path[:-1]:
        place = place[name]
    place[path[-1]] = value

    answer = as_viewer.post(ADDRESS, body, format="json")

    assert pointer in pointers(answer)


def test_one_bad_member_never_hides_another(as_viewer):
    answer = check(as_viewer, {**REQUIRED, "teeth": 3, "material": "wood"}, {**OFFERED, "bore_mm": 0})

    assert pointers(answer) == {"/required/teeth", "/required/material", "/offered/bore_mm"}


def test_an_inch_in_a_millimetre_member_is_asked_about(as_viewer):
    answer = check(as_viewer, offered={**OFFERED, "bore_mm": 1.9375})

    assert "49.2125" in answer.json()["errors"][0]["detail"]


def test_a_reference_that_leads_nowhere_is_named(as_viewer):
    answer = check(as_viewer, {"position": "NOWHERE"}, {"item": "NOTHING"})

    assert pointers(answer) <= {"/required/position", "/offered/item"}
    (row,) = answer.json()["errors"]
    assert (row["code"], row["values"]) == ("no_such_record", {"kind": "position", "name": "NOWHERE"})


def test_a_reference_comes_without_other_members(as_viewer):
    answer = check(as_viewer, offered={"item": "A", "teeth": 17})

    assert "/offered/item" in pointers(answer)
    assert "reference_with_other_members" in [row["code"] for row in answer.json()["errors"]]


def test_an_item_without_attributes_cannot_be_compared(as_viewer):
    item = factories.ItemFactory(specification=None)

    assert pointers(check(as_viewer, offered={"item": item.stock_number})) == {"/offered/item"}


def test_a_chain_outside_any_standard_is_judged_by_its_dimensions(as_viewer):
    own = {"pitch_mm": 40.0, "roller_diameter_mm": 20.0, "inner_width_mm": 22.0}
    required = {name: value for name, value in REQUIRED.items() if name != "chain"} | own
    offered = {name: value for name, value in OFFERED.items() if name != "chain"} | own

    answer = check(as_viewer, required, offered)

    assert outcomes(answer)["chain"] == "ok"
    assert "rating" in answer.json()["unchecked"]


def test_inch_sizes_keep_their_sixty_fourths(as_viewer):
    offered = {**OFFERED, "bore_type": "finished", "bore_mm": 25.003125, "keyway_width_mm": 8}

    assert outcomes(check(as_viewer, offered=offered))["mounting"] == "ok"
    assert Decimal("25.003125") == Decimal(str(offered["bore_mm"]))


def test_strangers_stay_out(as_stranger):
    assert check(as_stranger).status_code == 401


def test_a_tooth_that_measures_as_a_look_alike_is_refused_by_its_name(as_viewer):
    offered = {**OFFERED, "chain": "16B", "teeth": 21, "tooth_width_mm": 14.96}

    chain = check(as_viewer, {**REQUIRED, "chain": "16B", "teeth": 21}, offered).json()["checks"][0]

    assert (chain["outcome"], chain["code"]) == ("no", "tooth_width_of_look_alike")
    assert chain["values"]["look_alike"] == "16A"


def test_the_chain_on_the_wheel_needs_room_and_a_step_brings_its_cautions(as_viewer):
    # 08B, 17 teeth: 69.12 mm over the pitch circle and plates of 11.81 mm make 80.93 mm.
    answer = check(as_viewer, {**REQUIRED, "envelope": {"outside_diameter_mm": 84}}).json()

    (envelope,) = (row for row in answer["checks"] if row["aspect"] == "envelope")
    assert envelope["values"]["diameter"] == "chain_on_wheel"
    assert "little_room_under_guard" in {one["code"] for one in answer["cautions"]}
    assert [one["code"] for one in answer["work"][0]["cautions"]] == ["lathe_work"]
    assert (
        outcomes(check(as_viewer, {**REQUIRED, "envelope": {"outside_diameter_mm": 80}}))["envelope"] == "no"
    )
