"""Rules act wherever a verdict is used, at their place alone, and never along a chain of rules."""

from datetime import timedelta

import pytest
from django.utils import timezone

from drives.demand.cover_refresh import refresh_cover
from drives.models import Cover, CoverState, RecordedVerdict, SubstitutionRule, WorkOrder
from drives.substitutes.fitting import fit
from drives.substitutes.line_substitutes import line_substitutes
from drives.substitutes.offers import Wanted, substitutes_for_item, substitutes_for_position
from drives.substitutes.past_verdicts import keep_unit_verdicts
from drives.substitutes.position_requirement import positions_with_requirements
from inventory.interchange.vocabulary import Aspect, Grade
from tests.factories import (
    MORNING,
    DriveFactory,
    InstallationFactory,
    ItemFactory,
    PlantFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    SubstitutionRuleFactory,
    stock,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def place():
    """It needs hardened teeth: soft ones are for review."""
    return PositionFactory(hardened_teeth=True)


@pytest.fixture
def parts():
    """A fits by itself; B and C have soft teeth."""
    return (part("A", hardened_teeth=True), part("B", hardened_teeth=False), part("C", hardened_teeth=False))


def part(number, **attributes):
    found = ItemFactory(stock_number=number, specification=SprocketFactory(**attributes))
    stock(found, StoreroomFactory(), 1)
    return found


def replaces(item, instead_of, **more):
    return SubstitutionRuleFactory(kind="replaces", item=item, instead_of=instead_of, **more)


def offered(position, **wanted):
    position = positions_with_requirements().get(pk=position.pk)
    answer = substitutes_for_position(position, here_id=None, at=timezone.now(), wanted=Wanted(**wanted))
    return {offer.candidate.item.stock_number: offer.candidate.verdict for offer in answer.offers}


def grades(position, **wanted):
    return {number: verdict.grade.value for number, verdict in offered(position, **wanted).items()}


def test_rules_make_no_chain(place, parts):
    a, b, c = parts
    replaces(b, a, position=place, plant=PlantFactory())
    replaces(c, b, position=place, plant=PlantFactory())
    found = offered(place)
    assert {number: one.grade.value for number, one in found.items()} == {
        "A": "drop_in",
        "B": "drop_in",
        "C": "needs_review",
    }
    assert "rule_original_not_wanted" in {one.code for one in found["C"].cautions}


def test_a_rule_holds_at_its_own_place_alone(place, parts):
    a, b, c = parts
    other = PositionFactory(hardened_teeth=True, drive=DriveFactory())
    replaces(b, a, drive=place.drive, plant=PlantFactory())
    SubstitutionRuleFactory(item=c, position=other, plant=PlantFactory())
    assert grades(place) == {"A": "drop_in", "B": "drop_in", "C": "needs_review"}
    assert grades(other) == {"A": "drop_in", "B": "needs_review", "C": "unfit"}


def test_withdrawn_and_ended_rules_have_no_effect(place, parts):
    a, b, c = parts
    withdrawn = {"withdrawn_at": MORNING, "withdrawn_by_name": "Ines", "withdrawal_reason": "no longer"}
    replaces(b, a, **withdrawn)
    SubstitutionRuleFactory(item=a, valid_until=timezone.localdate() - 2 * DAY)
    replaces(c, a)
    assert grades(place) == {"A": "drop_in", "B": "needs_review", "C": "drop_in"}


def test_no_rule_on_a_lifting_drive(place, parts):
    a, b, _ = parts
    place.drive.lifting = True
    place.drive.save()
    replaces(b, a)
    found = offered(place)["B"]
    assert (found.grade, "rule_not_on_lifting_drive" in {one.code for one in found.cautions}) == (
        Grade.NEEDS_REVIEW,
        True,
    )


def test_what_a_rule_names_is_judged_however_many_are_better_or_near(place, parts, django_assert_num_queries):
    a, b, c = parts
    for number in range(40):
        part(f"BETTER-{number}", hardened_teeth=True)
    far = part(
        "FAR", pitch_mm="25.4", chain_designation="16B", roller_diameter_mm="15.88", inner_width_mm="17.02"
    )
    assert "B" not in grades(place, count=1)
    replaces(b, a)
    SubstitutionRuleFactory(item=far)
    SubstitutionRuleFactory(item=c)
    position = positions_with_requirements().get(pk=place.pk)
    with django_assert_num_queries(3):
        substitutes_for_position(position, here_id=None, at=timezone.now(), wanted=Wanted(1))
    found = grades(place, count=1)
    assert (found["B"], found["C"], found["FAR"]) == ("drop_in", "unfit", "unfit")


def test_what_replaces_an_item_is_offered_in_its_place(parts):
    _, b, _ = parts
    hub = part("HUB-C", hub_style="C")
    b_side = part("HUB-B", hub_style="B")
    before = substitutes_for_item(hub, here_id=None, at=timezone.now())
    replaces(b_side, hub)
    replaces(b, b_side)
    after = substitutes_for_item(hub, here_id=None, at=timezone.now())

    def grade(answer):
        return {one.candidate.item.stock_number: one.candidate.verdict.grade for one in answer.offers}

    assert grade(before)["HUB-B"] is Grade.NEEDS_REVIEW
    assert grade(after)["HUB-B"] in (Grade.DROP_IN, Grade.WITH_WORK)
    assert grade(after)["B"] is grade(before)["B"] is Grade.NEEDS_REVIEW


def test_a_merged_number_passes_its_rules_on(place, parts):
    a, b, c = parts
    replaces(b, a)
    type(b).objects.filter(pk=b.pk).update(merged_into=c, lifecycle="blocked")
    assert grades(place) == {"A": "drop_in", "C": "drop_in"}


def test_the_verdict_that_is_frozen_with_a_unit_names_the_rule(place, parts):
    a, b, _ = parts
    replaces(b, a)
    fit(place, by="Marta Keller", item=b, installed_at=MORNING)
    kept = RecordedVerdict.objects.get()
    assert kept.grade == "drop_in"
    assert Aspect.RULE.value in {one["aspect"] for one in kept.checks}


def test_a_unit_of_the_past_is_judged_by_the_rules_of_that_day(place, parts):
    a, b, _ = parts
    replaces(b, a, valid_from=MORNING.date(), valid_until=(MORNING + 10 * DAY).date())
    spans = [(MORNING + DAY, MORNING + 2 * DAY), (MORNING + 20 * DAY, MORNING + 21 * DAY)]
    units = [
        InstallationFactory(
            position=place,
            item=b,
            specification=b.specification,
            installed_at=on,
            removed_at=off,
            ended_by="failure",
        )
        for on, off in spans
    ]
    keep_unit_verdicts(units, "Marta Keller")
    found = RecordedVerdict.objects.order_by("installation__installed_at").values_list("grade", flat=True)
    assert list(found) == ["drop_in", "needs_review"]


def test_a_line_of_a_job_is_never_served_by_what_is_forbidden(place, parts):
    a, b, c = parts
    SubstitutionRuleFactory(item=c, plant=PlantFactory())
    job = WorkOrder.objects.create(
        source="cmms",
        external_id="1",
        kind="corrective",
        status="open",
        position=place,
        source_updated_at=MORNING,
    )
    assert line_substitutes([a], job)[a.pk] == [b]


def test_the_stored_cover_follows_rules_where_they_act(place, parts):
    a, b, _ = parts
    other = PositionFactory(hardened_teeth=True, drive=DriveFactory())
    refresh_cover()
    before = dict(CoverState.objects.values_list("position", "inputs_hash"))
    rule = replaces(b, a, position=place, plant=PlantFactory())
    assert refresh_cover() == 1
    assert set(Cover.objects.filter(position=place).values_list("item", flat=True)) == {a.pk, b.pk}
    SubstitutionRuleFactory(item=a, plant=PlantFactory())
    assert refresh_cover() == 2
    # What is forbidden does not serve, and a rule still replaces what it fits by its attributes.
    assert set(Cover.objects.values_list("position", "item")) == {(place.pk, b.pk)}
    SubstitutionRule.objects.all().delete()
    refresh_cover()
    assert dict(CoverState.objects.values_list("position", "inputs_hash")) == before
    assert rule.reason
    assert set(Cover.objects.values_list("position", "item")) == {(place.pk, a.pk), (other.pk, a.pk)}


def test_another_reason_or_a_rule_on_far_parts_judges_nothing_again(place, parts):
    a, b, _ = parts
    rule = replaces(b, a)
    refresh_cover()
    SubstitutionRule.objects.filter(pk=rule.pk).update(reason="said again")
    SubstitutionRuleFactory(item=part("FAR", teeth=60))
    assert refresh_cover() == 0
