from datetime import timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Event, Kit, Reservation, StockEntry, StockLevel, Storeroom
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests import movements
from tests.api.records import errors, names, post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/kits/"
MARTA = "Marta Keller"


@pytest.fixture
def main(db: None) -> Storeroom:
    room = make.StoreroomFactory()
    for number in ("SPR-1", "SPR-2"):
        make.stock(make.ItemFactory(stock_number=number), room, 3)
    return room


def body(*quantities: int, **more: Any) -> dict[str, Any]:
    lines = [{"item": f"SPR-{n}", "quantity": quantity} for n, quantity in enumerate(quantities, 1)]
    return {"work_order": "WO-1", "storeroom": "MAIN", "lines": lines} | more


def test_a_kit_holds_back_all_its_lines(as_storeroom: APIClient, main: Storeroom) -> None:
    response = post(as_storeroom, PATH, body(2, 1, needed_by="2030-01-31", place="cage 4"))
    shown = response.json()
    assert (response.status_code, shown["state"], shown["place"]) == (201, "open", "cage 4")
    assert [(line["item"], line["open_quantity"]) for line in shown["lines"]] == [("SPR-1", 2), ("SPR-2", 1)]
    assert {line["kit"] for line in shown["lines"]} == {shown["id"]}
    assert list(StockLevel.objects.order_by("pk").values_list("reserved", flat=True)) == [2, 1]


def test_a_line_that_is_short_holds_back_nothing(as_storeroom: APIClient, main: Storeroom) -> None:
    response = post(as_storeroom, PATH, body(2, 4))
    assert (response.status_code, response.json()["line"], response.json()["available"]) == (409, 1, 3)
    assert (Kit.objects.count(), Reservation.objects.count()) == (0, 0)
    assert not Event.objects.exclude(type="stock.moved").exists()


def test_two_lines_of_one_item_share_its_shelf(as_storeroom: APIClient, main: Storeroom) -> None:
    lines = [{"item": "SPR-1", "quantity": 2}] * 2
    assert post(as_storeroom, PATH, body(lines=lines)).json()["line"] == 1


def test_a_job_has_one_kit_in_a_storeroom(as_storeroom: APIClient, main: Storeroom) -> None:
    first = post(as_storeroom, PATH, body(1)).json()["id"]
    again = post(as_storeroom, PATH, body(1), key="k-2")
    assert (again.status_code, again.json()["kit"]) == (409, first)
    post(as_storeroom, f"{PATH}{first}/release/", {}, key="k-3")
    assert post(as_storeroom, PATH, body(1), key="k-4").status_code == 201


def test_its_issues_use_it_up(as_storeroom: APIClient, main: Storeroom) -> None:
    kit = post(as_storeroom, PATH, body(1, 1)).json()["id"]
    for number, state in ((1, "open"), (2, "used")):
        issue = {"kind": "issue", "item": f"SPR-{number}", "storeroom": "MAIN", "quantity": 1}
        post(as_storeroom, "/api/v1/movements/", issue | {"work_order": "WO-1"}, key=f"i-{number}")
        assert as_storeroom.get(f"{PATH}{kit}/").json()["state"] == state
    assert verify() == ()


def test_it_is_staged_and_put_back(as_storeroom: APIClient, main: Storeroom) -> None:
    path = f"{PATH}{post(as_storeroom, PATH, body(2, 1)).json()['id']}/"
    staged = post(as_storeroom, f"{path}stage/", {"place": "cage 4"}, key="s-1")
    assert (staged.status_code, staged.json()["state"], staged.json()["place"]) == (200, "staged", "cage 4")
    assert staged.json()["staged_at"] is not None
    released = post(as_storeroom, f"{path}release/", {}, key="r-1")
    assert (released.status_code, released.json()["state"]) == (200, "released")
    assert released["ETag"] == as_storeroom.get(path)["ETag"]
    assert post(as_storeroom, f"{path}release/", {}, key="r-2").status_code == 409
    assert post(as_storeroom, f"{path}stage/", {}, key="s-2").status_code == 409
    assert not StockLevel.objects.filter(reserved__gt=0).exists()
    kinds = Event.objects.filter(type__startswith="kit.").order_by("id").values_list("type", flat=True)
    assert list(kinds) == ["kit.made", "kit.staged", "kit.released"]


def test_old_and_short_kits_are_listed(as_storeroom: APIClient, main: Storeroom) -> None:
    for number, work_order in enumerate(["WO-1", "WO-2", "WO-3"]):
        post(as_storeroom, PATH, body(1, work_order=work_order), key=f"k-{number}")
    first = Kit.objects.get(work_order="WO-1")
    Kit.objects.filter(pk=first.pk).update(created_at=first.created_at - timedelta(days=92))
    item = Reservation.objects.first().item  # type: ignore[union-attr]
    movements.issue(item, main, 1, by=MARTA, work_order="WO-9", override="kiln is down")
    assert names(as_storeroom.get(f"{PATH}?old=true"), "work_order") == ["WO-1"]
    assert names(as_storeroom.get(f"{PATH}?short=true"), "work_order") == ["WO-3"]
    assert names(as_storeroom.get(f"{PATH}?old=false&short=false"), "work_order") == ["WO-2"]


def test_every_bad_member_is_named_at_once(as_storeroom: APIClient, main: Storeroom) -> None:
    wrong = {
        "work_order": "",
        "storeroom": "NOWHERE",
        "needed_by": "soon",
        "colour": "red",
        "lines": [{"item": "NOWHERE", "quantity": 0}, {"quantity": 1, "condition": "on_hold"}],
    }
    named = errors(post(as_storeroom, PATH, wrong))
    assert set(named) == {
        *("/work_order", "/storeroom", "/needed_by", "/colour"),
        *("/lines/0/item", "/lines/0/quantity", "/lines/1/item", "/lines/1/condition"),
    }
    assert "/lines" in errors(post(as_storeroom, PATH, body()))


def test_it_needs_a_key_and_a_role(as_storeroom: APIClient, as_viewer: APIClient, main: Storeroom) -> None:
    assert as_storeroom.post(PATH, body(1)).status_code == 400
    assert post(as_viewer, PATH, body(1)).status_code == 403
    assert not Kit.objects.exists()


def test_a_list_costs_a_fixed_number_of_queries(
    as_storeroom: APIClient, main: Storeroom, django_assert_num_queries: Any
) -> None:
    for number in range(3):
        post(as_storeroom, PATH, body(1, 1, work_order=f"WO-{number}"), key=f"k-{number}")
    with django_assert_num_queries(3):
        as_storeroom.get(PATH)


def test_a_reversed_issue_is_held_for_the_kit_again(as_storeroom: APIClient, main: Storeroom) -> None:
    kit = post(as_storeroom, PATH, body(2, 1)).json()["id"]
    before = as_storeroom.get(f"{PATH}{kit}/").json()
    for number, quantity in (("SPR-1", 2), ("SPR-2", 1)):
        issue = {"kind": "issue", "item": number, "storeroom": "MAIN", "quantity": quantity}
        issued = post(as_storeroom, "/api/v1/movements/", issue | {"work_order": "WO-1"}, key=f"k-{number}")
        assert issued.status_code == 201
    assert as_storeroom.get(f"{PATH}{kit}/").json()["state"] == "used"
    for entry in StockEntry.objects.issues().order_by("pk"):
        back = {"reason": "wrong part"}
        undone = post(as_storeroom, f"/api/v1/movements/{entry.pk}/reverse/", back, key=f"r-{entry.pk}")
        assert undone.status_code == 201
    after = as_storeroom.get(f"{PATH}{kit}/").json()
    stamps = ("created_at", "updated_at")
    assert [_without(stamps, kit) for kit in (before, after)] == [_without(stamps, before)] * 2


def _without(names: tuple[str, ...], shown: dict[str, Any]) -> dict[str, Any]:
    lines = [{name: value for name, value in line.items() if name not in names} for line in shown["lines"]]
    return {name: value for name, value in shown.items() if name not in names} | {"lines": lines}
