"""Which item can serve which position, judged again only where something changed."""

from decimal import Decimal

import pytest

from drives.demand import cover_refresh
from drives.demand.cover import CoverEdge, CoverMap, cover_map
from drives.demand.cover_refresh import refresh_cover
from drives.models import Cover
from tests.drives.demand.demand_records import day, ran, sprocket
from tests.factories import (
    BushItemFactory,
    DriveFactory,
    IdlerFactory,
    PilotBoredFactory,
    PositionFactory,
    RuleFactory,
    SpecificationFactory,
    SprocketFactory,
)

pytestmark = pytest.mark.django_db

KILN = {
    "chain_designation": "16B",
    "pitch_mm": Decimal("25.4"),
    "roller_diameter_mm": Decimal("15.88"),
    "inner_width_mm": Decimal("17.02"),
    "transverse_pitch_mm": Decimal("31.88"),
}


def edges(position=None):
    rows = Cover.objects.filter(position=position) if position else Cover.objects.all()
    return {(row.item_id, row.grade) for row in rows}


@pytest.fixture
def judged(monkeypatch):
    """Keys of the positions that were judged."""
    keys = []
    store = cover_refresh._store

    def note(changed):
        keys.extend(one.position.pk for one in changed)
        store(changed)

    monkeypatch.setattr(cover_refresh, "_store", note)
    return keys


def test_every_item_that_can_serve_is_kept_with_its_grade_and_minutes():
    position, part, work = PositionFactory(), sprocket(), sprocket("SPR-P", specification=PilotBoredFactory())
    sprocket("SPR-X", specification=SprocketFactory(bore_mm=Decimal("26"), max_bore_mm=Decimal("26")))
    refresh_cover()
    assert edges(position) == {(part.pk, "drop_in"), (work.pk, "with_work")}
    assert Cover.objects.get(item=part).work_minutes == 0
    assert Cover.objects.get(item=work).work_minutes > 0
    assert (Cover.objects.get(item=part).work_basis, Cover.objects.get(item=work).work_basis) == (
        "",
        "estimate",
    )


def test_other_kinds_of_parts_serve_no_position():
    PositionFactory()
    BushItemFactory()
    refresh_cover()
    assert edges() == set()


def test_nothing_is_judged_again_when_nothing_changed():
    PositionFactory(), PositionFactory(), sprocket()
    assert (refresh_cover(), refresh_cover()) == (2, 0)


def test_another_bore_on_one_item_is_judged_again_only_where_it_could_engage(judged):
    steep, kiln = PositionFactory(), PositionFactory(drive=DriveFactory(**KILN))
    part = sprocket()
    refresh_cover()
    judged.clear()
    part.specification.bore_mm = Decimal("24")
    part.specification.save()
    assert (refresh_cover(), judged) == (1, [steep.pk])
    assert edges(steep) == {(part.pk, "with_work")}
    assert edges(kiln) == set()


def test_a_new_item_is_judged_only_where_it_could_engage(judged):
    steep = PositionFactory()
    PositionFactory(drive=DriveFactory(**KILN))
    refresh_cover()
    judged.clear()
    part = sprocket()
    refresh_cover()
    assert judged == [steep.pk]
    assert edges(steep) == {(part.pk, "drop_in")}


def test_another_shaft_is_judged_again_at_its_own_position_only(judged):
    first, second = PositionFactory(), PositionFactory()
    part = sprocket()
    refresh_cover()
    judged.clear()
    first.shaft_diameter_mm = Decimal("24")
    first.save()
    refresh_cover()
    assert judged == [first.pk]
    assert (edges(first), edges(second)) == (set(), {(part.pk, "drop_in")})


def test_a_duty_of_the_drive_that_changed_is_judged_again(judged):
    position, other = PositionFactory(), PositionFactory()
    refresh_cover()
    judged.clear()
    type(position.drive).objects.filter(pk=position.drive_id).update(power_kw=Decimal("2.2"))
    refresh_cover()
    assert judged == [position.pk]
    assert other.pk not in judged


def test_a_rule_of_the_plant_is_judged_again_everywhere():
    PositionFactory(), PositionFactory(), sprocket()
    refresh_cover()
    RuleFactory()
    assert refresh_cover() == 2


def test_texts_and_prices_change_no_verdict():
    PositionFactory()
    part = sprocket()
    refresh_cover()
    part.description, part.unit_cost = "SPROCKET, OTHER WORDS", Decimal("99")
    part.save()
    assert refresh_cover() == 0


def test_a_unit_that_was_fitted_is_judged_again_at_its_position(judged):
    position, _ = PositionFactory(), PositionFactory()
    part = sprocket()
    refresh_cover()
    judged.clear()
    ran(position, part, 0)
    refresh_cover()
    assert judged == [position.pk]


def test_a_lifting_drive_is_served_only_by_the_item_fitted_there():
    position = PositionFactory(drive=DriveFactory(lifting=True))
    part, _ = sprocket("SPR-A"), sprocket("SPR-B")
    refresh_cover()
    assert edges(position) == set()
    ran(position, part, 0)
    refresh_cover()
    assert edges(position) == {(part.pk, "drop_in")}


def thin(**more):
    return SpecificationFactory(kind="sprocket", **more)


def test_the_item_fitted_there_counts_however_little_is_recorded():
    position, part = PositionFactory(), sprocket(specification=thin(teeth=17))
    refresh_cover()
    assert (part.pk, "drop_in") not in edges(position)
    ran(position, part, 0)
    refresh_cover()
    assert edges(position) == {(part.pk, "drop_in")}


def test_an_item_fitted_there_is_no_drop_in_elsewhere():
    position, other = PositionFactory(), PositionFactory()
    part = sprocket(specification=thin(teeth=17))
    ran(position, part, 0)
    refresh_cover()
    assert (part.pk, "drop_in") not in edges(other)


def test_the_item_fitted_there_does_not_count_when_it_is_unfit():
    position = PositionFactory()
    ran(position, sprocket(specification=SprocketFactory(bore_mm=Decimal("26"))), 0)
    refresh_cover()
    assert edges(position) == set()


def test_the_item_fitted_there_is_judged_again_when_it_changes_though_its_tooth_count_is_another():
    position = PositionFactory(drive=DriveFactory(ratio_tolerance_percent=Decimal("10")))
    part = sprocket(specification=SprocketFactory(teeth=position.teeth + 1))
    ran(position, part, 0)
    refresh_cover()
    assert edges(position) == {(part.pk, "drop_in")}
    part.specification.bore_mm = Decimal("26")
    part.specification.save()
    refresh_cover()
    assert edges(position) == set()


def test_a_unit_fitted_for_a_limited_time_is_judged_like_any_other():
    position, part = PositionFactory(), sprocket(specification=thin(teeth=17))
    refresh_cover()
    before = edges(position)
    ran(position, part, 0, temporary_until=day(30).date())
    refresh_cover()
    assert edges(position) == before
    assert (part.pk, "drop_in") not in before


def test_a_temporary_unit_on_a_lifting_drive_is_no_cover():
    position = PositionFactory(drive=DriveFactory(lifting=True))
    ran(position, sprocket(), 0, temporary_until=day(30).date())
    refresh_cover()
    assert edges(position) == set()


def test_an_item_that_was_removed_is_still_what_the_position_wants():
    position, part = PositionFactory(drive=DriveFactory(lifting=True)), sprocket()
    ran(position, part, 0, 10)
    refresh_cover()
    assert edges(position) == {(part.pk, "drop_in")}


def test_a_temporary_unit_does_not_take_the_place_of_the_one_before_it():
    position, part = PositionFactory(drive=DriveFactory(lifting=True)), sprocket("SPR-A")
    ran(position, part, 0, 10)
    ran(position, sprocket("SPR-B"), 10, temporary_until=day(30).date())
    refresh_cover()
    assert edges(position) == {(part.pk, "drop_in")}


def test_an_idler_is_served_by_other_tooth_counts_too():
    idler = IdlerFactory(teeth=None, shaft_kind="keyed")
    part = sprocket()
    refresh_cover()
    assert part.pk in {item for item, _ in edges(idler)}


def test_a_worn_chain_changes_no_stored_cover():
    position = PositionFactory()
    sprocket()
    refresh_cover()
    before = edges(position)
    position.inspections.create(at=day(0), elongation_percent=Decimal("4"))
    assert refresh_cover() == 0
    assert edges(position) == before


EDGES = (
    CoverEdge(1, 7, "drop_in", 0),
    CoverEdge(1, 8, "needs_review", None),
    CoverEdge(2, 7, "with_work", 35),
)


def test_the_graph_is_read_by_position_and_by_item():
    graph = CoverMap(EDGES)
    assert [edge.item_id for edge in graph.items_of(1)] == [7, 8]
    assert [edge.position_id for edge in graph.positions_of(7)] == [1, 2]
    assert (graph.items_of(9), graph.positions_of(9)) == ((), ())


@pytest.mark.parametrize(("worst", "kept"), [("drop_in", 1), ("with_work", 2), ("needs_review", 3)])
def test_the_graph_can_be_cut_at_a_grade(worst, kept):
    assert len(CoverMap(EDGES).at(worst).edges) == kept


@pytest.mark.parametrize(("worst", "kept"), [("drop_in", 1), ("with_work", 2)])
def test_rows_are_read_down_to_the_grade_in_one_query(worst, kept, django_assert_num_queries):
    PositionFactory()
    sprocket()
    sprocket("SPR-P", specification=PilotBoredFactory())
    refresh_cover()
    with django_assert_num_queries(1):
        found = cover_map(worst)
    assert len(found.edges) == kept
