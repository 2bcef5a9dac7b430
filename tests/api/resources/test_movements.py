from typing import Any

import pytest
from rest_framework.test import APIClient

from api.models import Change
from api.resources.movements import with_reservations
from inventory.models import Item, StockEntry, StockLevel, Storeroom
from inventory.stores import ledger
from tests import factories as make
from tests import movements
from tests.api.records import errors, names, post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/movements/"


@pytest.fixture
def main(db: None) -> Storeroom:
    return make.StoreroomFactory()


@pytest.fixture
def north(db: None) -> Storeroom:
    return make.StoreroomFactory(code="NORTH")


@pytest.fixture
def sprocket(main: Storeroom) -> Item:
    item = make.ItemFactory(stock_number="SPR-1")
    make.stock(item, main, 5)
    return item


@pytest.fixture
def chain(main: Storeroom) -> Item:
    item = make.ChainItemFactory(stock_number="CHN-1")
    make.stock(item, main, 317, pieces=[120, 120, 77])
    return item


def body(kind: str, **more: Any) -> dict[str, Any]:
    return {"kind": kind, "item": "SPR-1", "storeroom": "MAIN"} | more


def on_hand(item: Item, room: Storeroom, condition: str = "new") -> int:
    return StockLevel.objects.get(item=item, storeroom=room, condition=condition).on_hand


def test_a_receipt_adds(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    make.BinFactory(storeroom=main, code="A-07")
    response = post(
        as_storeroom,
        PATH,
        body("receipt", quantity=3, unit_cost="41.00", bin="A-07", reference="D-77", reason="delivery"),
    )
    assert response.status_code == 201, response.content
    assert (response.json()["balance_after"], response.json()["change"]) == (8, 3)
    assert (response.json()["unit_cost"], response.json()["currency"]) == ("41.00", "EUR")
    assert StockLevel.objects.get().bin.code == "A-07"


@pytest.mark.parametrize(
    "said",
    [
        {"kind": "receipt", "quantity": 3, "unit_cost": "41.5", "occurred_at": "2024-03-05T07:30:00.1+01:00"},
        {"kind": "issue", "quantity": 2, "work_order": "WO-1", "expected_back_on": "2030-01-31"},
        {"kind": "transfer", "quantity": 1, "to_storeroom": "NORTH"},
        {"kind": "transfer", "quantity": 1, "to_condition": "used_serviceable"},
        {"kind": "return", "quantity": 1, "reason_code": "worn"},
        {"kind": "count", "counted": 4, "reason": "  seen "},
        {"kind": "scrap", "quantity": 1, "reason_code": "defective", "reference": "S-1"},
    ],
    ids=lambda said: f"{said['kind']} {said.get('to_condition', '')}".strip(),
)
def test_what_was_booked_is_answered_as_it_is_read(
    as_storeroom: APIClient, sprocket: Item, north: Storeroom, said: dict[str, Any]
) -> None:
    booked = post(as_storeroom, PATH, {"item": "SPR-1", "storeroom": "MAIN"} | said)
    assert booked.status_code == 201, booked.content
    read = as_storeroom.get(booked["Location"])
    assert (read.content, read["ETag"]) == (booked.content, booked["ETag"])


def test_an_issue_costs_few_queries(
    as_storeroom: APIClient, sprocket: Item, django_assert_num_queries: Any
) -> None:
    post(as_storeroom, PATH, body("issue", quantity=1), key="first")
    # Token, key, item, storeroom, level, its change, entry, event, answer by key; the transaction is a savepoint of the test.
    with django_assert_num_queries(9 + 2):
        assert post(as_storeroom, PATH, body("issue", quantity=1), key="second").status_code == 201


def test_an_issue_takes_away(as_storeroom: APIClient, sprocket: Item) -> None:
    place = make.PositionFactory()
    response = post(
        as_storeroom,
        PATH,
        body(
            "issue",
            quantity=2,
            work_order="WO-1",
            position=place.tag,
            expected_back_on="2030-01-31",
            occurred_at="2024-03-05T07:30:00+01:00",
        ),
    )
    found = response.json()
    assert (response.status_code, found["balance_after"], found["quantity"]) == (201, 3, 2)
    assert (found["position"], found["work_order"]) == (place.tag, "WO-1")
    assert (found["occurred_at"], found["recorded_by"]) == ("2024-03-05T06:30:00Z", "the storeroom")
    assert response["Location"].endswith(f"{PATH}{found['id']}/")


def test_a_transfer_has_a_line_at_each_end(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom, north: Storeroom
) -> None:
    response = post(as_storeroom, PATH, body("transfer", quantity=2, to_storeroom="NORTH"))
    assert (response.json()["balance_after"], response.json()["to_storeroom"]) == (3, "NORTH")
    arrival = as_storeroom.get(f"{PATH}?storeroom=NORTH").json()["results"][0]
    assert (arrival["from_storeroom"], arrival["balance_after"]) == ("MAIN", 2)
    assert arrival["transfer"] == response.json()["transfer"]


def test_a_transfer_may_change_the_condition(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    moved = body("transfer", quantity=1, to_storeroom="MAIN", to_condition="on_hold")
    assert post(as_storeroom, PATH, moved).status_code == 201
    assert on_hand(sprocket, main, "on_hold") == 1


def test_within_one_storeroom_the_condition_is_enough(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    moved = post(as_storeroom, PATH, body("transfer", quantity=2, to_condition="on_hold"))
    assert moved.status_code == 201, moved.content
    assert (on_hand(sprocket, main), on_hand(sprocket, main, "on_hold")) == (3, 2)


@pytest.mark.parametrize(
    ("code", "condition"),
    [
        (None, "new"),
        ("not_needed", "new"),
        ("surplus", "new"),
        ("wrong_item", "on_hold"),
        ("defective", "on_hold"),
        ("did_not_fit", "on_hold"),
    ],
)
def test_what_comes_back_in_doubt_is_put_on_hold(
    code: str | None, condition: str, as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    response = post(as_storeroom, PATH, body("return", quantity=1, reason_code=code, work_order="WO-1"))
    assert (response.status_code, response.json()["condition"]) == (201, condition)
    assert response.json()["reason_code"] == code


@pytest.mark.parametrize("code", ["written_off", "defective", "surplus"])
def test_scrap_takes_away_for_a_reason(
    code: str, as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    found = post(as_storeroom, PATH, body("scrap", quantity=1, reason_code=code)).json()
    assert (found["balance_after"], found["reason_code"]) == (4, code)


def test_a_movement_is_taken_back_once(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    issued = post(as_storeroom, PATH, body("issue", quantity=2)).json()["id"]
    path = f"{PATH}{issued}/reverse/"
    first = post(as_storeroom, path, {"reason": "wrong item booked"}, key="r-1")
    assert (first.status_code, first.json()["reverses"], on_hand(sprocket, main)) == (201, issued, 5)
    assert post(as_storeroom, path, {"reason": "wrong item booked"}, key="r-1").content == first.content
    again = post(as_storeroom, path, {"reason": "wrong item booked"}, key="r-2")
    assert (again.status_code, again.json()["detail"]) == (409, f"Movement {issued} is reversed already.")
    of_reversal = post(as_storeroom, f"{PATH}{first.json()['id']}/reverse/", {"reason": "x"}, key="r-3")
    assert of_reversal.status_code == 409


def test_a_part_of_a_movement_is_taken_back(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    path = f"{PATH}{post(as_storeroom, PATH, body('issue', quantity=4)).json()['id']}/"
    said = {"reason": "one stayed", "quantity": 1}
    first = post(as_storeroom, f"{path}reverse/", said, key="r-1")
    assert (first.status_code, first.json()["change"], on_hand(sprocket, main)) == (201, 1, 2)
    assert post(as_storeroom, f"{path}reverse/", said, key="r-1").content == first.content
    shown = as_storeroom.get(path).json()
    assert (shown["reversed_quantity"], shown["reversed_by"]) == (1, None)
    more = post(as_storeroom, f"{path}reverse/", said | {"quantity": 4}, key="r-2")
    assert (more.status_code, more.json()["code"], more.json()["values"]["left"]) == (
        409,
        "reversal_above_what_is_left",
        3,
    )
    for key, wrong in enumerate((0, -1, "2", 1.5)):
        refused = post(as_storeroom, f"{path}reverse/", said | {"quantity": wrong}, key=f"w-{key}")
        assert (refused.status_code, set(errors(refused))) == (400, {"/quantity"})
    last = post(as_storeroom, f"{path}reverse/", {"reason": "all stayed"}, key="r-3").json()
    shown = as_storeroom.get(path).json()
    assert (last["change"], shown["reversed_quantity"], shown["reversed_by"]) == (3, 4, last["id"])


def test_the_issue_of_a_fitted_unit_is_refused_with_what_can_be_done(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    for turn, action in enumerate(("remove", "never_fitted")):
        issued = post(as_storeroom, PATH, body("issue", quantity=1), key=f"i-{turn}").json()["id"]
        fitted = {"position": make.PositionFactory().tag, "item": "SPR-1", "movement": issued}
        unit = as_storeroom.post(
            "/api/v1/installations/", fitted | {"installed_at": "2024-03-05T07:30:00+01:00"}
        ).json()["id"]
        path = f"{PATH}{issued}/reverse/"
        refused = post(as_storeroom, path, {"reason": "typed twice"}, key=f"r-{turn}")
        found = refused.json()
        assert (refused.status_code, found["code"], found["installation"]) == (409, "issue_unit_fitted", unit)
        remedy = next(one for one in found["remedies"] if one["action"] == action)
        assert as_storeroom.post(remedy["href"], remedy["body"]).status_code == 200
        assert post(as_storeroom, path, {"reason": "typed twice"}, key=f"s-{turn}").status_code == 201
        assert on_hand(sprocket, main) == 5
    assert Change.objects.filter(record="drives.installation", action="delete").count() == 1


def test_the_pieces_beside_the_fitted_one_are_reversed_by_the_remedy(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    issued = post(as_storeroom, PATH, body("issue", quantity=3), key="i").json()["id"]
    fitted = {"position": make.PositionFactory().tag, "item": "SPR-1", "movement": issued}
    as_storeroom.post("/api/v1/installations/", fitted | {"installed_at": "2024-03-05T07:30:00+01:00"})

    refused = post(as_storeroom, f"{PATH}{issued}/reverse/", {"reason": "typed twice"}, key="r").json()
    remedy = refused["remedies"][0]

    assert (refused["code"], refused["values"]["others"]) == ("issue_partly_fitted", 2)
    assert (remedy["action"], remedy["body"]["quantity"]) == ("reverse_others", 2)
    assert post(as_storeroom, remedy["href"], remedy["body"], key="s").status_code == 201
    assert on_hand(sprocket, main) == 4


def test_a_worn_part_leaves_the_books(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    back = body("return", quantity=1, reason_code="worn", work_order="WO-1")
    answer = post(as_storeroom, PATH, back)
    assert (answer.status_code, answer.json()["reason_code"]) == (201, "worn")
    assert (on_hand(sprocket, main), on_hand(sprocket, main, "on_hold")) == (5, 0)
    pair = as_storeroom.get(f"{PATH}?reason_code=worn").json()["results"]
    assert [(one["kind"], one["change"]) for one in pair] == [("scrap", -1), ("return", 1)]


def test_an_issue_is_told_that_its_reservation_had_ended(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    ledger.release(ledger.reserve(sprocket, main, 2, work_order="WO-1", by="Marta Keller"))
    told = post(as_storeroom, PATH, body("issue", quantity=1, work_order="WO-1"))
    assert (told.status_code, [one["code"] for one in told.json()["notes"]]) == (
        201,
        ["issued_after_reservation_ended"],
    )
    assert as_storeroom.get(told["Location"]).json()["notes"] == []


def test_an_issue_is_told_that_a_message_of_its_order_has_booked_the_item(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    by_message = movements.issue(sprocket, main, 1, by="cmms", work_order="WO-1", reference="wo:0f:1").entry
    told = post(as_storeroom, PATH, body("issue", quantity=1, work_order="WO-1")).json()
    assert [(one["code"], one["values"]["movement"]) for one in told["notes"]] == [
        ("order_has_booked", by_message.pk)
    ]
    assert post(as_storeroom, PATH, body("issue", quantity=1), key="other").json()["notes"] == []


def test_an_issue_that_loses_against_the_release_of_its_reservation_is_told(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom, monkeypatch: pytest.MonkeyPatch
) -> None:
    hold = ledger.reserve(sprocket, main, 2, work_order="WO-1", by="Marta Keller")

    def released_meanwhile(movement: Any) -> Any:
        found = with_reservations(movement)
        ledger.release(hold)
        return found

    monkeypatch.setattr("api.resources.movements.with_reservations", released_meanwhile)
    lost = post(as_storeroom, PATH, body("issue", quantity=1, work_order="WO-1"))
    found = lost.json()
    assert (lost.status_code, found["code"], on_hand(sprocket, main)) == (409, "reservation_ended", 5)
    monkeypatch.undo()
    (remedy,) = found["remedies"]
    assert post(as_storeroom, remedy["href"], remedy["body"], key="k-2").status_code == 201


def test_both_ends_of_a_transfer_are_taken_back(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom, north: Storeroom
) -> None:
    sent = post(as_storeroom, PATH, body("transfer", quantity=2, to_storeroom="NORTH")).json()["id"]
    assert post(as_storeroom, f"{PATH}{sent}/reverse/", {"reason": "never sent"}, key="r").status_code == 201
    assert (on_hand(sprocket, main), on_hand(sprocket, north)) == (5, 0)


def test_taking_back_needs_a_reason_a_key_and_a_role(
    as_storeroom: APIClient, as_viewer: APIClient, sprocket: Item
) -> None:
    path = f"{PATH}{StockEntry.objects.get().pk}/reverse/"
    assert errors(post(as_storeroom, path, {})).keys() == {"/reason"}
    assert as_storeroom.post(path, {"reason": "x"}).status_code == 400
    assert post(as_viewer, path, {"reason": "x"}).status_code == 403
    assert post(as_storeroom, f"{PATH}999999/reverse/", {"reason": "x"}, key="k-2").status_code == 404


@pytest.mark.parametrize(("counted", "change"), [(7, 2), (0, -5), (5, 0)])
def test_a_count_sets_the_book_right(
    counted: int, change: int, as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    response = post(as_storeroom, PATH, body("count", counted=counted, reason_code="found"))
    found = response.json()
    assert (found["counted"], found["change"], found["balance_after"]) == (counted, change, counted)
    assert StockLevel.objects.get().last_counted_at is not None


def test_a_count_keeps_what_was_booked_since_it_was_seen(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    movements.issue(sprocket, main, 2, by="Marta Keller")
    assert post(as_storeroom, PATH, body("count", counted=6, seen=5)).json()["balance_after"] == 4


@pytest.mark.parametrize("links", [[120, 80], 120])
def test_chain_comes_in_pieces(links: Any, as_storeroom: APIClient, chain: Item) -> None:
    delivery = body("receipt", item="CHN-1", quantity=200, piece_links=links)
    assert post(as_storeroom, PATH, delivery).status_code == 201
    pieces = as_storeroom.get("/api/v1/stock/?item=CHN-1").json()["results"][0]["pieces"]
    assert [piece["links"] for piece in pieces] == [120, 120, 120, 80, 77]


def test_chain_is_cut_from_the_piece_that_is_named(as_storeroom: APIClient, chain: Item) -> None:
    piece = chain.levels.get().pieces.order_by("-links").first()
    response = post(as_storeroom, PATH, body("issue", item="CHN-1", quantity=40, piece=piece.pk))
    assert response.json()["piece"] == piece.pk
    piece.refresh_from_db()
    assert piece.links == 80


def test_no_piece_is_long_enough(as_storeroom: APIClient, chain: Item) -> None:
    response = post(as_storeroom, PATH, body("issue", item="CHN-1", quantity=200))
    assert (response.status_code, response.json()["piece_links"]) == (409, [120, 120, 77])
    joined = body("issue", item="CHN-1", quantity=200, join_pieces=True)
    refused = post(as_storeroom, PATH, joined, key="k-0")
    assert (refused.status_code, refused.json()["code"]) == (409, "too_many_joints")
    make.StockingTermsFactory(chain_joints=1)
    assert post(as_storeroom, PATH, joined, key="k-2").status_code == 201


def test_a_scrap_of_what_the_book_does_not_have_comes_with_a_count_as_remedy(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    ledger.reserve(sprocket, main, 2, work_order="WO-2", by="Marta Keller")
    response = post(as_storeroom, PATH, body("scrap", quantity=6, work_order="WO-1"))
    found = response.json()
    assert (response.status_code, found["on_hand"], found["available"]) == (409, 5, 3)
    (remedy,) = found["remedies"]
    assert (remedy["action"], remedy["method"]) == ("count", "POST")
    assert remedy["body"]["counted"] == 8
    assert on_hand(sprocket, main) == 5
    assert post(as_storeroom, remedy["href"], remedy["body"], key="k-2").status_code == 201
    again = body("scrap", quantity=6, work_order="WO-1")
    assert post(as_storeroom, PATH, again, key="k-3").json()["balance_after"] == 2


def test_nothing_on_a_shelf_that_does_not_exist_is_a_conflict_too(
    as_storeroom: APIClient, sprocket: Item, north: Storeroom
) -> None:
    response = post(as_storeroom, PATH, body("issue", storeroom="NORTH", quantity=1))
    assert (response.status_code, response.json()["remedies"][0]["action"]) == (409, "found")


def test_what_is_held_back_for_others_stays(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    hold = ledger.reserve(sprocket, main, 4, work_order="WO-2", by="Marta Keller")
    response = post(as_storeroom, PATH, body("issue", quantity=2, work_order="WO-1"))
    found = response.json()
    assert response.status_code == 409
    assert found["reservations"] == [{"id": hold.pk, "work_order": "WO-2", "open_quantity": 4}]
    own = body("issue", quantity=4, work_order="WO-2")
    assert post(as_storeroom, PATH, own, key="k-2").status_code == 201
    assert as_storeroom.get(f"/api/v1/reservations/{hold.pk}/").json()["state"] == "used"


def test_every_bad_member_is_named_at_once(as_storeroom: APIClient, sprocket: Item) -> None:
    wrong = {
        "kind": "theft",
        "item": "NOWHERE",
        "storeroom": True,
        "quantity": 0,
        "condition": "old",
        "position": "NOWHERE",
        "piece": "x",
        "piece_links": [0],
        "reason_code": "lost",
        "expected_back_on": "2024-02-30",
        "unit_cost": 12.5,
        "occurred_at": "2024-03-04T06:30:00",
        "work_order": "W" * 61,
        "colour": "red",
    }
    response = post(as_storeroom, PATH, wrong)
    assert response.status_code == 400
    assert set(errors(response)) == {f"/{name}" for name in wrong}


@pytest.mark.parametrize(
    ("kind", "more", "named"),
    [
        ("receipt", {}, {"quantity"}),
        (
            "receipt",
            {"quantity": 1, "position": None, "expected_back_on": "2030-01-01"},
            {"expected_back_on"},
        ),
        (
            "issue",
            {"counted": 2, "unit_cost": "1.00", "work_order": 7},
            {"quantity", "counted", "unit_cost", "work_order"},
        ),
        ("issue", {"quantity": 1, "bin": "A-01"}, {"bin"}),
        ("transfer", {"quantity": 1}, {"to_storeroom"}),
        ("transfer", {"quantity": 1, "to_storeroom": "MAIN"}, {"to_storeroom"}),
        ("count", {"quantity": 3}, {"counted", "quantity"}),
        ("count", {"counted": -1}, {"counted"}),
        ("return", {"quantity": 1, "reason_code": "found"}, {"reason_code"}),
        ("return", {"quantity": 1, "reason_code": "did_not_fit", "condition": "new"}, {"condition"}),
        ("return", {"expected_back_on": "2030-01-01"}, {"quantity", "expected_back_on"}),
        ("scrap", {"quantity": 1, "reason_code": "did_not_fit"}, {"reason_code"}),
        ("scrap", {"quantity": 1, "override": {"reason": "x"}}, {"override"}),
        ("count", {"counted": 1, "reason_code": "surplus"}, {"reason_code"}),
        ("receipt", {"quantity": 1, "bin": "NOWHERE"}, {"bin"}),
        ("receipt", {"quantity": 4, "piece_links": [2, 2]}, {"piece"}),
        ("receipt", {"quantity": 10**9, "piece_links": 1}, {"piece_links"}),
        ("receipt", {"quantity": 10**12}, {"quantity"}),
        ("issue", {"quantity": 1, "condition": "on_hold"}, {"condition"}),
        ("issue", {"quantity": 1, "occurred_at": "2100-01-01T00:00:00Z"}, {"occurred_at"}),
    ],
)
def test_each_kind_takes_what_belongs_to_it(
    kind: str, more: dict[str, Any], named: set[str], as_storeroom: APIClient, sprocket: Item
) -> None:
    response = post(as_storeroom, PATH, body(kind, **more))
    assert response.status_code == 400, response.content
    assert set(errors(response)) == {f"/{name}" for name in named}
    assert StockEntry.objects.count() == 1


def test_null_is_as_good_as_left_out(as_storeroom: APIClient, sprocket: Item) -> None:
    everything = dict.fromkeys(
        ("counted", "seen", "to_storeroom", "piece", "piece_links", "reason_code", "bin")
    )
    assert post(as_storeroom, PATH, body("issue", quantity=1, **everything)).status_code == 201


def test_a_reference_is_booked_once(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    first = post(as_storeroom, PATH, body("receipt", quantity=2, reference="D-1"))
    same = post(as_storeroom, PATH, body("receipt", quantity=2, reference="D-1"), key="k-2")
    other = post(as_storeroom, PATH, body("receipt", quantity=3, reference="D-1"), key="k-3")
    assert (same.json()["id"], on_hand(sprocket, main)) == (first.json()["id"], 7)
    assert (other.status_code, other.json()["movement"]) == (409, first.json()["id"])


def test_a_key_has_one_effect(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    first = post(as_storeroom, PATH, body("issue", quantity=1))
    again = post(as_storeroom, PATH, body("issue", quantity=1))
    assert (again.content, on_hand(sprocket, main)) == (first.content, 4)
    assert post(as_storeroom, PATH, body("issue", quantity=2)).status_code == 422
    assert on_hand(sprocket, main) == 4


def test_a_refusal_is_repeated_under_its_key(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    first = post(as_storeroom, PATH, body("issue", quantity=9))
    make.stock(sprocket, main, 10)
    again = post(as_storeroom, PATH, body("issue", quantity=9))
    assert (again.status_code, again.content) == (409, first.content)


@pytest.mark.parametrize(
    ("query", "changes"),
    [
        ("", [2, -2, -1, 5]),
        ("kind=issue,count", [-1]),
        ("kind=transfer&storeroom=MAIN", [-2]),
        ("to_storeroom=NORTH", [-2]),
        ("item=SPR-1&storeroom=NORTH", [2]),
        ("work_order=WO-1", [-1]),
        ("position=STEEP-P1", [-1]),
        ("occurred_at__gte=2024-03-05T00:00:00Z&occurred_at__lte=2024-03-06T00:00:00%2B01:00", [-1]),
        ("change__lte=-2", [-2]),
        ("reference=D-9", [5]),
        ("q=wo-1 spr", [-1]),
        ("condition=on_hold", []),
        ("expected_back_on__lte=2030-04-01", [-1]),
        ("ordering=id", [5, -1, -2, 2]),
        ("ordering=item", [5, -1, -2, 2]),
        ("ordering=-storeroom", [2, -2, -1, 5]),
        ("ordering=kind,-id", [-1, 5, 2, -2]),
    ],
)
def test_it_is_filtered(
    query: str, changes: list[int], as_viewer: APIClient, main: Storeroom, north: Storeroom
) -> None:
    item = make.ItemFactory(stock_number="SPR-1")
    make.stock(item, main, 5, reference="D-9")
    make.PositionFactory(tag="STEEP-P1")
    movements.issue(
        item,
        main,
        1,
        by="Marta Keller",
        work_order="WO-1",
        position="STEEP-P1",
        expected_back_on=make.MORNING.date().replace(year=2030),
        occurred_at=make.MORNING.replace(day=5),
    )
    movements.transfer(item, main, north, 2, by="Marta Keller")
    assert names(as_viewer.get(f"{PATH}?{query}"), "change") == changes


@pytest.mark.parametrize("query", ["kind=theft", "occurred_at__gte=yesterday", "expected_back_on__lte=1"])
def test_a_filter_that_is_not_understood_is_refused(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?{query}").status_code == 400
