import pytest
from django.test import Client
from django.urls import reverse

from api.models import Change
from drives.assortment.running_down import run_down, undo_run_down
from drives.models import Cover
from inventory.facts import Refusal
from inventory.models import Item, RunDown
from inventory.models.access_scope import AccessScope, scoped_to
from tests.drives.assortment.test_variety import general, item, own, position, three_bores_and_one_bushed
from tests.factories import AdminFactory, UserFactory
from tests.jobs import get_calculated

pytestmark = pytest.mark.django_db
ADDRESS = "/planning/variety/"


@pytest.fixture
def chief():
    client = Client()
    client.force_login(AdminFactory())
    return client


def text_of(answer):
    refused = 409 if answer.request["REQUEST_METHOD"] == "POST" else 200
    assert answer.status_code == refused, answer.content
    return " ".join(answer.content.decode().split())


def lifecycles(items):
    return sorted(Item.objects.filter(pk__in=[one.pk for one in items]).values_list("lifecycle", flat=True))


def test_the_page_says_what_to_keep_instead_of_what(chief):
    bored, bushed, places = three_bores_and_one_bushed()
    text = text_of(get_calculated(chief, ADDRESS))
    assert "30 EUR a year" in text
    assert "stock value from 210 EUR to 60 EUR." in text
    assert "at most 22 minutes of work." in text
    for number in (bushed.stock_number, *(one.stock_number for one in bored)):
        assert reverse("screens:item", args=[number]) in text
    assert all(reverse("screens:position", args=[one.tag]) in text for one in places)


def test_limits_narrow_it_and_unknown_ones_are_left_out(chief):
    three_bores_and_one_bushed()
    assert "No item could go" in text_of(get_calculated(chief, ADDRESS, {"worst_grade": "drop_in"}))
    assert "30 EUR a year" in text_of(
        get_calculated(chief, ADDRESS, {"worst_grade": "x", "most_minutes": "?"})
    )


def test_items_are_run_down_with_name_and_reason_and_it_is_undone(chief):
    bored, *_ = three_bores_and_one_bushed()
    get_calculated(chief, ADDRESS)
    body = {"item": [one.pk for one in bored], "group": bored[0].pk, "reason": "One bushed item serves."}
    body["key"] = "shown-once"
    assert [chief.post(ADDRESS, body).status_code for _ in range(2)] == [302, 302]
    told = text_of(chief.get(ADDRESS))
    assert told.count(f"Run down: {bored[0].stock_number}") == 1
    assert told.count('name="act" value="run-down-undo:') == 1
    chief.post(ADDRESS, body)
    assert f"This was done already: Run down: {bored[0].stock_number}" in text_of(chief.get(ADDRESS))
    assert lifecycles(bored) == ["run_down"] * 3
    marks = list(RunDown.objects.order_by("pk"))
    assert {(one.reason, one.marked_by_name) for one in marks} == {
        ("One bushed item serves.", marks[0].marked_by_name)
    }
    entry = Change.objects.filter(record="inventory.item").first()
    assert (entry.before, entry.after) == ({"lifecycle": "active"}, {"lifecycle": "run_down"})
    text = text_of(chief.get(ADDRESS))
    assert "One bushed item serves." in text
    assert "(not active any more)" in text
    assert chief.post(ADDRESS, {"mark": marks[0].pk, "reason": "It runs again."}).status_code == 302
    assert lifecycles(bored) == ["active", "run_down", "run_down"]
    assert "It runs again." in text_of(chief.get(ADDRESS))
    assert "is not being run down any more" in text_of(
        chief.post(ADDRESS, {"mark": marks[0].pk, "reason": "x"})
    )
    run_down([marks[0].item_id], by="ines", reason="Once more.")
    assert RunDown.objects.filter(item=marks[0].item).count() == 2
    keys = ",".join(str(mark.pk) for mark in marks[1:])
    chief.post("/counter/undo/", {"act": f"run-down-undo:{keys}", "key": "k"})
    assert sorted(lifecycles(bored)) == ["active", "active", "run_down"]


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ({"reason": ""}, "Give a reason"),
        ({"reason": "x" * 201}, "Give a reason"),
        ({"item": []}, "Choose at least one item"),
        ({"item": [999_999]}, "Choose at least one item"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(chief, body, sentence):
    bored, *_ = three_bores_and_one_bushed()
    given = {"item": [one.pk for one in bored], "reason": "One serves all.", **body}
    assert sentence in text_of(chief.post(ADDRESS, given))
    assert lifecycles(bored) == ["active"] * 3
    assert not RunDown.objects.exists()


@pytest.mark.parametrize("drive", [{"criticality": "vital"}, {"lifting": True}])
def test_the_only_item_held_for_a_vital_or_lifting_drive_is_kept(chief, drive):
    only, other = item(50), general(10, pieces=0)
    place = position(own(only), (other, "with_work", 20), **drive)
    answer = text_of(chief.post(ADDRESS, {"item": [only.pk], "reason": "Stands still."}))
    assert f"{only.stock_number} is the only active item held that serves {place.tag}" in answer
    assert lifecycles([only]) == ["active"]
    held = item(20)
    Cover.objects.create(position=place, item=held, grade="drop_in")
    assert chief.post(ADDRESS, {"item": [only.pk], "reason": "Stands still."}).status_code == 302


def test_who_may_not_decide_or_sees_only_a_part_marks_nothing(chief):
    bored, *_ = three_bores_and_one_bushed()
    reader = Client()
    reader.force_login(UserFactory())
    assert reader.post(ADDRESS, {"item": [bored[0].pk], "reason": "x"}).status_code == 403
    with scoped_to(lambda: AccessScope(frozenset(), None)), pytest.raises(Refusal) as refused:
        run_down([bored[0].pk], by="ines", reason="x")
    assert refused.value.fact.code == "run_down_needs_all_plants"
    with scoped_to(lambda: AccessScope(frozenset(), None)), pytest.raises(Refusal):
        undo_run_down(1, by="ines", reason="x")
    assert lifecycles(bored) == ["active"] * 3
