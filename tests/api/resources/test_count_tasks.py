from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.models import CountTask, Item, Reservation, StockEntry, StockLevel, Storeroom
from inventory.stores import ledger
from inventory.stores.counting.count_requests import request_count
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests import movements
from tests.api.records import errors, names, post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/count-tasks/"
MARTA = "Marta Keller"


@pytest.fixture
def main(db: None) -> Storeroom:
    return make.StoreroomFactory()


@pytest.fixture
def sprocket(main: Storeroom) -> Item:
    item = make.ItemFactory(stock_number="SPR-1")
    make.stock(item, main, 7)
    return item


@pytest.fixture
def task(sprocket: Item, main: Storeroom) -> CountTask:
    return request_count(sprocket, main, "new", cause="value", at=timezone.now(), worth=12.5)


def count(client: APIClient, task: CountTask, key: str = "c-1", **body: Any) -> Any:
    return post(client, f"{PATH}{task.pk}/count/", body, key=key)


def on_hand() -> int:
    return StockLevel.objects.get().on_hand


def test_the_book_is_not_told_before_it_was_counted(as_storeroom: APIClient, task: CountTask) -> None:
    for shown in (as_storeroom.get(PATH).json()["results"][0], as_storeroom.get(f"{PATH}{task.pk}/").json()):
        assert (shown["booked"], shown["counted"], shown["variance"]) == (None, None, None)
        assert 7 not in shown.values()
        assert "on_hand" not in shown


def test_a_count_sets_the_book_right_and_shows_what_differed(
    as_storeroom: APIClient, task: CountTask
) -> None:
    response = count(as_storeroom, task, counted=5)
    shown = response.json()
    assert (response.status_code, shown["state"], shown["booked"], shown["variance"]) == (
        200,
        "counted",
        7,
        -2,
    )
    assert (shown["counted_by"], on_hand()) == ("the storeroom", 5)
    assert StockEntry.objects.get(pk=shown["movement"]).reason_code == "not_there"
    assert count(as_storeroom, task, counted=5).content == response.content
    assert count(as_storeroom, task, key="c-2", counted=4).status_code == 409
    assert (on_hand(), verify()) == (5, ())


def test_what_was_moved_since_it_was_counted_is_kept(
    as_storeroom: APIClient, task: CountTask, sprocket: Item, main: Storeroom
) -> None:
    seen_at = timezone.now() - timedelta(hours=1)
    movements.issue(sprocket, main, 3, by=MARTA)
    shown = count(as_storeroom, task, counted=6, seen_at=seen_at.isoformat()).json()
    assert (shown["booked"], shown["variance"], on_hand()) == (7, -1, 3)


def test_what_was_taken_before_and_booked_after_is_not_taken_twice(
    as_storeroom: APIClient, task: CountTask, sprocket: Item, main: Storeroom
) -> None:
    seen_at = timezone.now() - timedelta(hours=1)
    movements.issue(sprocket, main, 3, by=MARTA, occurred_at=seen_at - timedelta(minutes=5))
    shown = count(as_storeroom, task, counted=4, seen_at=seen_at.isoformat()).json()
    assert (shown["booked"], shown["variance"], on_hand()) == (4, 0, 4)


def test_a_count_older_than_the_last_one_is_refused(
    as_storeroom: APIClient, task: CountTask, sprocket: Item, main: Storeroom
) -> None:
    movements.count(sprocket, main, 7, by=MARTA)
    late = (timezone.now() - timedelta(hours=1)).isoformat()
    assert count(as_storeroom, task, counted=4, seen_at=late).status_code == 409
    assert count(as_storeroom, task, key="c-2", counted=7).status_code == 200


def test_reservations_that_nothing_is_left_for_are_short(
    as_storeroom: APIClient, task: CountTask, sprocket: Item, main: Storeroom
) -> None:
    ledger.reserve(sprocket, main, 6, work_order="WO-1", by=MARTA)
    assert count(as_storeroom, task, counted=4).status_code == 200
    hold = Reservation.objects.get()
    assert (hold.open_quantity, hold.short_quantity) == (4, 2)
    assert (on_hand(), verify()) == (4, ())


def test_chain_in_pieces_is_counted_by_the_piece(as_storeroom: APIClient, main: Storeroom) -> None:
    chain = make.ChainItemFactory()
    make.stock(chain, main, 100, pieces=[60, 40])
    task = request_count(chain, main, "new", cause="value", at=timezone.now())
    assert errors(count(as_storeroom, task, counted=99)).keys() == {"/piece"}
    piece = StockLevel.objects.get().pieces.get(links=60)
    shown = count(as_storeroom, task, key="c-2", counted=58, piece=piece.pk).json()
    assert (shown["booked"], shown["variance"], on_hand()) == (60, -2, 98)
    assert verify() == ()


@pytest.mark.parametrize(
    ("body", "named"),
    [
        ({}, "/counted"),
        ({"counted": -1}, "/counted"),
        ({"counted": 1, "seen_at": "2100-01-01T00:00:00Z"}, "/seen_at"),
        ({"counted": 1, "seen_at": "noon"}, "/seen_at"),
        ({"counted": 1, "booked": 7}, "/booked"),
    ],
)
def test_a_count_that_makes_no_sense_is_refused(
    body: dict[str, Any], named: str, as_storeroom: APIClient, task: CountTask
) -> None:
    assert errors(count(as_storeroom, task, **body)).keys() == {named}
    assert on_hand() == 7


def test_anybody_may_ask_for_a_count_once(as_storeroom: APIClient, sprocket: Item) -> None:
    body = {"item": "SPR-1", "storeroom": "MAIN"}
    first = post(as_storeroom, PATH, body)
    again = post(as_storeroom, PATH, body, key="k-2")
    assert (first.status_code, first.json()["cause"]) == (201, "asked")
    assert again.json()["id"] == first.json()["id"]


def test_a_shelf_is_taken_off_the_list_for_a_reason(
    as_storeroom: APIClient, as_viewer: APIClient, task: CountTask
) -> None:
    path = f"{PATH}{task.pk}/drop/"
    assert post(as_viewer, path, {"note": "x"}).status_code == 403
    assert errors(post(as_storeroom, path, {})).keys() == {"/note"}
    assert post(as_storeroom, path, {"note": "shelf is gone"}, key="d-1").json()["state"] == "dropped"
    assert count(as_storeroom, task, counted=7).status_code == 409


def test_the_dearest_stands_first(as_viewer: APIClient, task: CountTask, main: Storeroom) -> None:
    dear = make.ItemFactory(stock_number="SPR-2")
    request_count(dear, main, "new", cause="value", at=timezone.now(), worth=900.0)
    assert names(as_viewer.get(f"{PATH}?state=open&storeroom=MAIN"), "item") == ["SPR-2", "SPR-1"]
    assert names(as_viewer.get(f"{PATH}?cause=found"), "item") == []


def counted(main: Storeroom, right: int, wrong: int, cause: str = "value") -> None:
    CountTask.objects.bulk_create(
        CountTask(
            item=make.ItemFactory(),
            storeroom=main,
            cause=cause,
            due_on=make.MORNING.date(),
            state="counted",
            booked=1,
            counted=1 if number < right else 0,
        )
        for number in range(right + wrong)
    )


def test_the_share_of_right_counts_comes_with_its_interval(as_viewer: APIClient, main: Storeroom) -> None:
    """57 of 60 right: 95 %, 86.3 to 98.3 % after Wilson; counts that an error called for are left out."""
    counted(main, 57, 3)
    counted(main, 0, 9, cause="not_there")
    for address in (f"{PATH}accuracy/", f"{PATH}accuracy/?storeroom=MAIN"):
        found = as_viewer.get(address).json()
        assert (found["counted"], found["right"], found["share"]) == (60, 57, 0.95)
        assert found["interval"] == pytest.approx([0.8630, 0.9829], abs=5e-5)


def test_what_was_found_or_missing_on_the_way_counts_apart(
    as_storeroom: APIClient, main: Storeroom, sprocket: Item
) -> None:
    """Of 8 right counts of 8 and two corrections: 8 of 10, 49.0 to 94.3 % after Wilson."""
    counted(main, 8, 0)
    took = {"item": "SPR-1", "storeroom": "MAIN"}
    post(as_storeroom, "/api/v1/movements/found/", took | {"quantity": 20}, key="f-1")
    post(as_storeroom, "/api/v1/movements/", took | {"kind": "receipt", "quantity": 2}, key="f-2")
    post(as_storeroom, "/api/v1/movements/not-there/", took, key="f-3")
    found = as_storeroom.get(f"{PATH}accuracy/").json()
    assert (found["counted"], found["right"], found["share"]) == (8, 8, 1.0)
    assert (found["found"], found["missing"], found["share_with_corrections"]) == (1, 1, 0.8)
    assert found["interval_with_corrections"] == pytest.approx([0.4902, 0.9433], abs=5e-5)


def test_nothing_counted_says_nothing(as_viewer: APIClient, as_stranger: APIClient, main: Storeroom) -> None:
    found = as_viewer.get(f"{PATH}accuracy/?storeroom=MAIN").json()
    assert (found["counted"], found["share"], found["interval"]) == (0, None, None)
    assert as_viewer.get(f"{PATH}accuracy/?storeroom=NOWHERE").status_code == 400
    assert as_stranger.get(f"{PATH}accuracy/").status_code == 401
