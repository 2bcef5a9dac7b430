"""What a place wants: stated, else as the last unit fitted there for good had it."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from drives.substitutes import approvals
from drives.substitutes.position_requirement import position_requirement, positions_with_requirements
from inventory.facts import fact
from inventory.interchange.vocabulary import Aspect, Grade, Material, Outcome
from tests.factories import (
    BushedSprocketFactory,
    DriveFactory,
    InstallationFactory,
    ItemFactory,
    PositionFactory,
    SprocketFactory,
)

pytestmark = pytest.mark.django_db
FITTED, OFF = datetime(2022, 5, 2, tzinfo=UTC), datetime(2026, 3, 9, tzinfo=UTC)
SILENT = {
    "teeth": None,
    "shaft_kind": "",
    "shaft_diameter_mm": None,
    "key_width_mm": None,
    "key_height_mm": None,
    "keyway_depth_mm": None,
    "key_standard": "",
    "hub_style": "",
    "material": "",
    "hardened_teeth": None,
    "envelope_outside_diameter_mm": None,
}


@pytest.fixture
def position():
    """It states nothing of its sprocket."""
    return PositionFactory(**SILENT)


def item(number="SPR-19", specification=None, **attributes):
    return ItemFactory(
        stock_number=number, specification=specification or SprocketFactory(**{"teeth": 19, **attributes})
    )


def fit(position, part, installed_at=FITTED, **more):
    if "removed_at" in more:
        more.setdefault("ended_by", "failure")
    return InstallationFactory(position=position, item=part, installed_at=installed_at, **more)


def wanted(position):
    return position_requirement(positions_with_requirements().get(pk=position.pk))


def grade(position, part):
    return wanted(position).verdict_of(part.specification, part).grade


def test_what_is_not_stated_is_lent_by_the_unit_with_its_date(position):
    fit(position, item(hardened_teeth=True))
    place = wanted(position)
    [note] = place.notes
    assert (place.required.teeth, place.required.hardened_teeth) == (19, True)
    assert (note.code, note.values["item"], note.values["installed_on"]) == (
        "requirement_taken_from_fitted_unit",
        "SPR-19",
        "2022-05-02",
    )
    assert {"teeth", "shaft", "hub_style", "material", "hardened_teeth"} <= set(note.values["attributes"])


def test_the_answer_is_the_same_when_the_wreck_is_off(position):
    part = item(hardened_teeth=True)
    unit = fit(position, part)
    before = wanted(position).required
    unit.removed_at, unit.ended_by = OFF, "failure"
    unit.save()
    place = wanted(position)
    assert place.required == before
    assert (place.fitted, place.lender) == (None, unit)
    assert grade(position, part) is Grade.DROP_IN
    [note] = place.notes
    assert note.code == "requirement_taken_from_removed_unit"
    assert (note.values["installed_on"], note.values["removed_on"]) == ("2022-05-02", "2026-03-09")


def test_the_day_of_the_lender_is_that_of_the_plant(position):
    plant = position.drive.equipment.area.plant
    plant.timezone = "Europe/Vienna"
    plant.save(update_fields=["timezone"])
    fit(position, item(), installed_at=datetime(2024, 5, 2, 22, tzinfo=UTC))
    [note] = wanted(position).notes
    assert note.values["installed_on"] == "2024-05-03"


def test_a_temporary_unit_never_lends_and_is_named(position):
    fit(position, item(), removed_at=OFF)
    fit(
        position,
        item("SPR-17", teeth=17),
        installed_at=OFF,
        temporary_until=date(2026, 6, 1),
        approved_by="Ines Okafor",
    )
    place = wanted(position)
    assert place.required.teeth == 19
    assert [note.code for note in place.notes] == [
        "requirement_taken_from_removed_unit",
        "temporary_unit_lends_nothing",
    ]
    assert place.notes[1] == fact("temporary_unit_lends_nothing", item="SPR-17", until_on="2026-06-01")


def test_a_place_that_only_ever_had_a_temporary_unit_borrows_nothing(position):
    fit(position, item(), temporary_until=date(2026, 6, 1), approved_by="Ines Okafor")
    place = wanted(position)
    assert (place.required.teeth, place.lender) == (None, None)
    assert [note.code for note in place.notes] == ["temporary_unit_lends_nothing"]


def test_the_last_of_several_units_for_good_lends(position):
    fit(position, item("SPR-21", teeth=21), installed_at=datetime(2012, 1, 2, tzinfo=UTC), removed_at=FITTED)
    fit(position, item(), removed_at=OFF)
    other = PositionFactory(**SILENT)
    fit(other, item("SPR-23", teeth=23))
    assert (wanted(position).required.teeth, wanted(other).required.teeth) == (19, 23)


@pytest.mark.parametrize("drive_says", [None, False])
def test_soft_teeth_for_hardened_ones_are_for_review(drive_says):
    position = PositionFactory(drive=DriveFactory(hardened_teeth_required=drive_says))
    hard, soft = item("SPR-H", teeth=17, hardened_teeth=True), item("SPR-S", teeth=17)
    fit(position, hard, removed_at=OFF)
    assert (grade(position, hard), grade(position, soft)) == (Grade.DROP_IN, Grade.NEEDS_REVIEW)
    [found] = wanted(position).verdict_of(soft.specification, soft).deciding
    assert (found.aspect, found.code) == (Aspect.TOOTH_HARDNESS, "teeth_not_hardened")
    assert [note.values["attributes"] for note in wanted(position).notes] == [("hardened_teeth",)]


def test_a_position_that_states_soft_teeth_are_enough_borrows_no_hardness():
    position = PositionFactory(hardened_teeth=False)
    fit(position, item("SPR-H", teeth=17, hardened_teeth=True))
    assert grade(position, item("SPR-S", teeth=17)) is Grade.DROP_IN
    assert wanted(position).notes == ()


def test_soft_teeth_that_ran_do_not_show_that_they_are_enough():
    position = PositionFactory(drive=DriveFactory(environment=["abrasive"]))
    soft = item("SPR-S", teeth=17)
    fit(position, soft)
    [found] = wanted(position).verdict_of(soft.specification, soft).deciding
    assert (found.outcome, found.code) == (Outcome.REVIEW, "abrasive_teeth_not_hardened")


def test_the_grade_of_stainless_steel_is_lent_with_the_material():
    position = PositionFactory(material="stainless_steel")
    stainless = {"teeth": 17, "material": "stainless_steel"}
    fit(position, item("SPR-316", material_grade="316", **stainless))
    assert wanted(position).required.material_grade == "316"
    assert grade(position, item("SPR-304", material_grade="304", **stainless)) is Grade.NEEDS_REVIEW


@pytest.mark.parametrize(
    ("material", "fitted", "grade_of_fitted"),
    [("carbon_steel", "stainless_steel", "316"), ("carbon_steel", "carbon_steel", "C45")],
)
def test_no_other_grade_is_lent(material, fitted, grade_of_fitted):
    position = PositionFactory(material=material)
    fit(position, item("SPR-G", teeth=17, material=fitted, material_grade=grade_of_fitted))
    place = wanted(position)
    assert (place.required.material, place.required.material_grade) == (Material(material), None)
    assert place.notes == ()


def test_a_bushed_hub_lends_its_bush_where_no_shaft_is_stated(position):
    bushed = item("SPR-B", specification=BushedSprocketFactory(teeth=19))
    fit(position, bushed, removed_at=OFF)
    assert grade(position, bushed) is Grade.DROP_IN
    assert "bush_size" in wanted(position).notes[0].values["attributes"]


def test_a_bushed_hub_lends_its_bush_to_a_stated_shaft():
    position = PositionFactory(teeth=19)
    bushed = item("SPR-B", specification=BushedSprocketFactory(teeth=19))
    assert grade(position, bushed) is Grade.WITH_WORK
    fit(position, bushed, removed_at=OFF)
    assert grade(position, bushed) is Grade.DROP_IN
    place = wanted(position)
    assert (place.required.shaft.diameter_mm, place.required.shaft.bush_size) == (25.0, "1610")
    assert [note.values["attributes"] for note in place.notes] == [("bush_size",)]


def test_a_bush_that_always_slipped_is_for_review_for_the_same_hub_and_refused_where_it_is_new():
    # 12 kW x 1.4 at 100 rpm are 1,604 Nm; the catalogues give a 1610 bush less than 500 Nm.
    drive = {"power_kw": Decimal(12), "driver_speed_rpm": Decimal(100)}
    place, other = (
        PositionFactory(teeth=19, envelope_outside_diameter_mm=None, drive=DriveFactory(**drive))
        for _ in range(2)
    )
    bushed = item("SPR-B", specification=BushedSprocketFactory(teeth=19))
    fit(place, bushed, removed_at=OFF)
    codes = {
        position.pk: {one.code for one in wanted(position).verdict_of(bushed.specification, bushed).findings}
        for position in (place, other)
    }
    assert "bush_slips" in codes[place.pk] & codes[other.pk]
    assert (grade(place, bushed), grade(other, bushed)) == (Grade.NEEDS_REVIEW, Grade.UNFIT)


def test_one_query_for_all_positions(position, django_assert_num_queries):
    fit(position, item(), removed_at=OFF)
    fit(PositionFactory(**SILENT), item("SPR-17", teeth=17))
    with django_assert_num_queries(1):
        found = [position_requirement(one) for one in positions_with_requirements()]
    assert sorted(place.required.teeth for place in found) == [17, 19]


def test_a_unit_that_becomes_temporary_is_compared_with_the_one_before_it(position):
    fit(position, item(), removed_at=OFF)
    unit = fit(position, item("SPR-18", teeth=18), installed_at=OFF)
    until = date.today() + timedelta(days=30)
    approval = approvals.approve(unit, by="Ines", approved_by="Ines Okafor", until_on=until)
    assert "teeth" in [one["aspect"] for one in approval.differences]
    unit.refresh_from_db()
    assert unit.differences == approval.differences
