"""How many of the parts issued on a verdict came back as not fitting: by grade, by aspect, with the cases."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from drives.models import Position
from tests import factories as make
from tests.api.records import post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/false-fits/"
MOVEMENTS = "/api/v1/movements/"


@pytest.fixture
def place(db: None) -> Position:
    main = make.StoreroomFactory()
    for number, part in (("SPR-FITS", {}), ("SPR-WIDE", {"bore_mm": 30, "max_bore_mm": None})):
        item = make.ItemFactory(stock_number=number, specification=make.SprocketFactory(**part))
        make.stock(item, main, 50)
    return make.PositionFactory(tag="P-1")


def move(client: APIClient, kind: str, item: str, order: str, **more: Any) -> Any:
    body = {"kind": kind, "item": item, "storeroom": "MAIN", "quantity": 1, "work_order": order}
    answer = post(client, MOVEMENTS, body | more, key=f"{kind}-{order}-{item}")
    assert answer.status_code == 201, answer.content
    return answer.json()


def issued(client: APIClient, item: str, times: int) -> list[int]:
    why = {"position": "P-1", "reason": "breakdown"}
    return [move(client, "issue", item, f"WO-{n}", **why)["id"] for n in range(times)]


def came_back(client: APIClient, item: str, order: int, reason: str) -> Any:
    return move(client, "return", item, f"WO-{order}", reason_code="did_not_fit", reason=reason)


def test_the_rate_comes_by_grade_and_aspect_with_its_cases(as_storeroom: APIClient, place: Position) -> None:
    """Of 8 issued as drop-in 2 came back: 25 %, 7.15 to 59.07 % after Wilson."""
    entries = issued(as_storeroom, "SPR-FITS", 8)
    issued(as_storeroom, "SPR-WIDE", 2)
    came_back(as_storeroom, "SPR-FITS", 3, "bore too tight")
    last = came_back(as_storeroom, "SPR-FITS", 5, "rubs on the guard")
    came_back(as_storeroom, "SPR-WIDE", 0, "bore too wide")
    move(as_storeroom, "return", "SPR-FITS", "WO-6", reason_code="not_needed")
    found = as_storeroom.get(PATH).json()
    assert (found["issued"], found["came_back"], found["share"]) == (10, 3, 0.3)
    dropped = found["by_grade"]["drop_in"]
    assert (dropped["issued"], dropped["came_back"], dropped["share"]) == (8, 2, 0.25)
    assert dropped["interval"] == pytest.approx([0.0715, 0.5907], abs=5e-5)
    assert {name: one["came_back"] for name, one in found["by_aspect"].items()} == {
        "mounting": 2,
        "envelope": 1,
    }
    assert [one["reason"] for one in found["cases"]] == [
        "bore too wide",
        "rubs on the guard",
        "bore too tight",
    ]
    (case,) = as_storeroom.get(f"{PATH}?aspect=envelope").json()["cases"]
    assert (case["issue"], case["movement"], case["grade"]) == (entries[5], last["id"], "drop_in")
    assert (case["position"], case["aspect"]) == ("P-1", "envelope")
    assert len(as_storeroom.get(f"{PATH}?grade=unfit").json()["cases"]) == 1


def test_a_reversed_issue_and_one_without_a_position_do_not_count(
    as_storeroom: APIClient, place: Position
) -> None:
    for n, entry in enumerate(issued(as_storeroom, "SPR-FITS", 2)[:1]):
        assert (
            post(as_storeroom, f"{MOVEMENTS}{entry}/reverse/", {"reason": "x"}, key=f"r-{n}").status_code
            == 201
        )
    move(as_storeroom, "issue", "SPR-FITS", "WO-9")
    assert as_storeroom.get(PATH).json()["issued"] == 1


def test_nothing_issued_says_nothing(as_viewer: APIClient, as_stranger: APIClient) -> None:
    found = as_viewer.get(PATH).json()
    assert (found["issued"], found["share"], found["interval"], found["cases"]) == (0, None, None, [])
    assert as_stranger.get(PATH).status_code == 401


@pytest.mark.parametrize(
    "query",
    [
        "grade=nice",
        "aspect=colour",
        "plant=NOWHERE",
        "limit=0",
        "begin=2026-01-02T00:00:00Z&end=2026-01-01T00:00:00Z",
    ],
)
def test_a_query_that_makes_no_sense_is_refused(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?{query}").status_code == 400


def test_it_costs_a_fixed_number_of_queries(
    as_storeroom: APIClient, place: Position, django_assert_num_queries: Any
) -> None:
    issued(as_storeroom, "SPR-FITS", 4)
    for order in range(3):
        came_back(as_storeroom, "SPR-FITS", order, "bore too tight")
    as_storeroom.get(PATH)
    with django_assert_num_queries(5):
        as_storeroom.get(PATH)
