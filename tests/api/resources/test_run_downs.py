import pytest

from api.models import Change
from drives.substitutes.offers import available_substitutes
from inventory.models import Item, RunDown
from tests import factories as make
from tests.api.records import API, errors, post
from tests.api.resources.test_merges import limited_client
from tests.drives.assortment.test_variety import item, own, position

pytestmark = pytest.mark.django_db
WHY = {"reason": "One bushed item serves instead."}


def marking(client, one, body=WHY, key="k-1"):
    return post(client, f"{API}items/{one.stock_number}/run-down/", body, key)


def lifecycle(one):
    return Item.objects.get(pk=one.pk).lifecycle


def test_an_item_is_run_down_once_for_a_key_and_it_is_undone(as_manager):
    one = item(50)
    answer = marking(as_manager, one)
    assert answer.status_code == 201, answer.content
    found = answer.json()
    assert (found["item"], found["reason"], found["undone_by"]) == (one.stock_number, WHY["reason"], None)
    assert found["marked_by"]
    assert marking(as_manager, one).content == answer.content
    assert lifecycle(one) == "run_down"
    entry = Change.objects.get(record="inventory.item", key=one.stock_number)
    assert (entry.before, entry.after) == ({"lifecycle": "active"}, {"lifecycle": "run_down"})
    assert as_manager.get(answer["Location"]).json() == found
    assert [row["stock_number"] for row in listed(as_manager, "items/?lifecycle=run_down")] == [
        one.stock_number
    ]
    undone = post(as_manager, f"{answer['Location']}undo/", {"reason": "It runs again."}, "k-2")
    assert undone.status_code == 200, undone.content
    assert (undone.json()["undone_reason"], lifecycle(one)) == ("It runs again.", "active")
    assert undone.json()["undone_by"] == found["marked_by"]
    assert [row["id"] for row in listed(as_manager, "run-downs/?undone=true")] == [found["id"]]
    assert listed(as_manager, "run-downs/?undone=false") == []
    again = post(as_manager, f"{answer['Location']}undo/", {"reason": "It runs again."}, "k-3")
    assert (again.status_code, errors(again).keys()) == (400, {"/run_down"})


def listed(client, path):
    return client.get(f"{API}{path}").json()["results"]


@pytest.mark.parametrize("body", [{}, {"reason": ""}, {"reason": " "}, {"reason": "x" * 201}])
def test_a_reason_is_given(as_manager, body):
    one = item(50)
    answer = marking(as_manager, one, body)
    assert (answer.status_code, errors(answer).keys()) == (400, {"/reason"})
    assert not RunDown.objects.exists()


def test_what_is_not_active_or_the_only_cover_of_a_vital_drive_names_the_item(as_manager):
    only, blocked = item(50), item(20)
    position(own(only), criticality="vital")
    Item.objects.filter(pk=blocked.pk).update(lifecycle="blocked")
    for one in (only, blocked):
        answer = marking(as_manager, one, key=one.stock_number)
        assert (answer.status_code, errors(answer).keys()) == (400, {"/item"})
    assert not RunDown.objects.exists()


def test_only_a_manager_of_all_plants_marks(client_for):
    one = item(50)
    for client in (client_for("storeroom"), client_for("viewer"), limited_client("MAIN")):
        assert marking(client, one).status_code in (403, 409)
    assert lifecycle(one) == "active"
    assert not RunDown.objects.exists()


def test_a_blocked_item_is_issued_with_a_reason_and_not_put_forward(as_storeroom):
    asked, blocked, room = item(50), item(20), make.StoreroomFactory()
    make.stock(blocked, room, 2)

    def offered():
        offers = available_substitutes(asked, None, here=room, at=make.MORNING)
        return blocked in [offer.candidate.item for offer in offers]

    assert offered()
    Item.objects.filter(pk=blocked.pk).update(lifecycle="blocked")
    body = {"kind": "issue", "item": blocked.stock_number, "storeroom": room.code, "quantity": 1}
    refused = post(as_storeroom, f"{API}movements/", body, "k-1")
    assert (refused.status_code, list(errors(refused))) == (400, ["/reason"])
    assert f"{blocked.stock_number} is blocked" in str(errors(refused))
    given = post(as_storeroom, f"{API}movements/", {**body, "reason": "Nothing else at night."}, "k-2")
    assert (given.status_code, given.json()["recorded_by"]) == (201, "the storeroom")
    assert not offered()
