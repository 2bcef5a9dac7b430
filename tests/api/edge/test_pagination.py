import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any
from uuid import UUID

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from api.edge import list_parts
from api.edge.pagination import Cursor, decode, encode
from tests.examples import some_of

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.api.edge.edge_site")]
PEOPLE = "/api/v1/try/people/"
START = datetime(2026, 1, 1, tzinfo=UTC)
Pages = dict[str, Any]


@pytest.fixture
def people(db: None) -> list[User]:
    logins = [None, 3, 1, None, 2, 1, None]
    return [
        User.objects.create(
            username=f"p{number}",
            first_name="Ann" if number % 2 else "Bob",
            last_login=None if login is None else START + timedelta(days=login, microseconds=number),
        )
        for number, login in enumerate(logins)
    ]


def walk(client: APIClient, address: str, relation: str = "next", pages: Pages | None = None) -> list[str]:
    """Where no row changes between several walks, `pages` keeps what was read."""
    pages, names = {} if pages is None else pages, list[str]()
    while address:
        if address not in pages:
            pages[address] = client.get(address).json()
        page = pages[address]
        found = [one["username"] for one in page["results"]]
        names = [*names, *found] if relation == "next" else [*found, *names]
        address = page[relation]
    return names


@pytest.mark.parametrize(
    ("ordering", "expected"),
    [
        ("username", "p0 p1 p2 p3 p4 p5 p6"),
        ("-username", "p6 p5 p4 p3 p2 p1 p0"),
        ("last_login", "p2 p5 p4 p1 p0 p3 p6"),
        ("-last_login", "p1 p4 p5 p2 p6 p3 p0"),
        ("first_name,-last_login", "p1 p5 p3 p4 p2 p6 p0"),
    ],
)
@pytest.mark.parametrize("limit", [1, 2, 3, 50])
def test_it_walks_every_row_once_both_ways(
    as_viewer: APIClient, people: list[User], ordering: str, expected: str, limit: int
) -> None:
    address = f"{PEOPLE}?limit={limit}&ordering={ordering}"
    assert walk(as_viewer, address) == expected.split()
    page = as_viewer.get(address).json()
    while page["next"]:
        page = as_viewer.get(page["next"]).json()
    last = [one["username"] for one in page["results"]]
    before = walk(as_viewer, page["previous"], "previous") if page["previous"] else []
    assert before + last == expected.split()


@pytest.fixture
def crowd(db: None, request: pytest.FixtureRequest) -> Random:
    """Twenty to forty people, of whom as many are called Ann as the test asks for."""
    share = request.param
    random = Random(str(share))
    for number in range(random.randint(20, 40)):
        User.objects.create(
            username=f"c{random.randrange(10**9)}-{number}",
            first_name="Ann" if random.random() < share else random.choice(["Bob", "Cy"]),
            last_login=random.choice([None, START, START + timedelta(days=1)]),
        )
    return random


@pytest.mark.parametrize("ordering", ["username", "-username", "-last_login", "first_name,-last_login"])
@pytest.mark.parametrize("crowd", [0, 0.1, 0.5], ids=["none", "few", "many"], indirect=True)
def test_a_bounded_walk_loses_nothing_and_doubles_nothing(
    as_viewer: APIClient, crowd: Random, ordering: str, monkeypatch: Any
) -> None:
    monkeypatch.setattr(list_parts, "WALKED", (crowd.randint(1, 3), crowd.randint(3, 9)))
    monkeypatch.setattr(list_parts, "WALKED_FOR_ONE", crowd.randint(0, 2))
    everybody = as_viewer.get(f"{PEOPLE}?limit=500&ordering={ordering}").json()["results"]
    expected = [one["username"] for one in everybody if one["first_name"] == "Ann"]
    address = f"{PEOPLE}?limit={crowd.randint(1, 4)}&first_name=Ann&ordering={ordering}"
    pages: Pages = {}
    assert walk(as_viewer, address, pages=pages) == expected
    met: list[str] = []
    while address:
        page = pages[address]
        here = [one["username"] for one in page["results"]]
        before, met = met, [*met, *here]
        if page["previous"]:
            assert walk(as_viewer, page["previous"], "previous", pages) == before
            again = walk(as_viewer, page["previous"], pages=pages)
            assert again == expected[len(expected) - len(again) :]
            assert len(again) >= len(expected) - len(before)
        address = page["next"]
    assert met == expected


def test_a_page_that_is_short_says_after_how_many_rows(
    as_viewer: APIClient, people: list[User], monkeypatch: Any
) -> None:
    monkeypatch.setattr(list_parts, "WALKED", (2, 3))
    monkeypatch.setattr(list_parts, "WALKED_FOR_ONE", 0)
    page = as_viewer.get(f"{PEOPLE}?first_name=Cy").json()
    assert (page["results"], page["stopped_after"], page["previous"]) == ([], 3, None)
    page = as_viewer.get(page["next"]).json()
    assert (page["results"], page["stopped_after"]) == ([], 3)
    page = as_viewer.get(page["next"]).json()
    assert (page["results"], page["stopped_after"], page["next"]) == ([], None, None)
    assert as_viewer.get(page["previous"]).json()["stopped_after"] == 3


def test_the_bound_is_one_for_all_parts_of_a_page_and_grows_with_its_limit(
    as_viewer: APIClient, people: list[User], monkeypatch: Any
) -> None:
    """Those who never logged in come after those who did: a part of their own."""
    monkeypatch.setattr(list_parts, "WALKED", (2, 3))
    monkeypatch.setattr(list_parts, "WALKED_FOR_ONE", 0)
    User.objects.filter(pk__in=[one.pk for one in people[:2]]).update(last_login=START)
    address = f"{PEOPLE}?first_name=Cy&ordering=last_login"
    page = as_viewer.get(address).json()
    assert (page["results"], page["stopped_after"]) == ([], 3)
    monkeypatch.setattr(list_parts, "WALKED_FOR_ONE", 1)
    assert as_viewer.get(f"{address}&limit=4").json()["stopped_after"] == 4


def test_it_reads_no_more_than_the_bound_for_a_page(
    as_viewer: APIClient, people: list[User], monkeypatch: Any
) -> None:
    monkeypatch.setattr(list_parts, "WALKED", (2, 3))
    monkeypatch.setattr(list_parts, "WALKED_FOR_ONE", 0)
    with CaptureQueriesContext(connection) as caught:
        as_viewer.get(f"{PEOPLE}?first_name=Cy")
    of_people = [one["sql"] for one in caught if '"first_name" IN' in one["sql"]]
    assert of_people
    assert all('"auth_user"."id" IN' in one or re.search("LIMIT [34]$", one) for one in of_people)


def test_it_misses_nothing_that_stays_while_rows_come_and_go(
    as_viewer: APIClient, people: list[User]
) -> None:
    page = as_viewer.get(f"{PEOPLE}?limit=3").json()
    people[2].delete()
    User.objects.create(username="a-new-one-before")
    assert walk(as_viewer, page["next"]) == ["p3", "p4", "p5", "p6"]


@pytest.mark.parametrize(
    ("ordering", "first"), [("last_login", "p2"), ("-last_login", "p1"), ("first_name", "p1")]
)
def test_a_walk_meets_each_surviving_row_once_while_others_come_and_go(
    as_viewer: APIClient, people: list[User], ordering: str, first: str
) -> None:
    address, met = f"{PEOPLE}?limit=1&ordering={ordering}", []
    for step in range(20):
        page = as_viewer.get(address).json()
        met += [one["username"] for one in page["results"]]
        address = page["next"]
        if not address:
            break
        User.objects.create(username=f"n{step}", first_name="Abe", last_login=START if step % 2 else None)
        User.objects.filter(username__in=["p0", "p4"][: step + 1]).delete()
    survivors = ["p1", "p2", "p3", "p5", "p6"]
    assert met[0] == first
    assert sorted(name for name in met if name in survivors) == survivors
    assert len(met) == len(set(met))


def test_a_deep_page_begins_at_its_row(as_viewer: APIClient, people: list[User]) -> None:
    """Rows that are equal in the leading key are asked apart, so that each question enters an index in the middle."""
    second = as_viewer.get(f"{PEOPLE}?limit=3&ordering=first_name").json()["next"]
    with CaptureQueriesContext(connection) as caught:
        as_viewer.get(second)
    asked = [re.findall('"(?:first_name|id)" [=<>]+ [^ )]+', one["sql"]) for one in caught]
    assert [one for one in asked if any("first_name" in part for part in one)] == [
        ["\"first_name\" = 'Ann'", f'"id" > {people[5].pk}'],
        ["\"first_name\" > 'Ann'"],
    ]


def test_it_links_in_the_header_too(as_viewer: APIClient, people: list[User]) -> None:
    first = as_viewer.get(f"{PEOPLE}?limit=3")
    second = as_viewer.get(first.json()["next"])
    assert f'<{first.json()["next"]}>; rel="next"' in first["Link"]
    assert 'rel="prev"' not in first["Link"]
    assert f'<{second.json()["previous"]}>; rel="prev"' in second["Link"]
    assert f'<http://testserver{PEOPLE}?limit=3>; rel="first"' in second["Link"]


def test_it_keeps_the_filters_in_its_links(as_viewer: APIClient, people: list[User]) -> None:
    assert walk(as_viewer, f"{PEOPLE}?limit=1&first_name=Ann") == ["p1", "p3", "p5"]


@pytest.mark.parametrize("limit", ["0", "501", "-1", "x", "1.0", "１", "1e2", "9" * 30, "", "+5"])
def test_it_refuses_a_limit_outside_1_to_500(as_viewer: APIClient, limit: str) -> None:
    response = as_viewer.get(PEOPLE, {"limit": limit})
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == "limit"


@pytest.mark.parametrize(
    "ordering",
    ["password", "-password", "groups__name", "usernam", "username,,", "--username", "?", ",".join("abcdef")],
)
def test_it_orders_by_listed_fields_alone(as_viewer: APIClient, ordering: str) -> None:
    response = as_viewer.get(PEOPLE, {"ordering": ordering})
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == "ordering"


@pytest.mark.parametrize(
    "cursor", ["abc", "cD1hYmM=", "W10:x", "\x00", "%00", "a" * 9000, "é", ":", "e30:1:2"]
)
def test_it_refuses_crafted_cursors(as_viewer: APIClient, people: list[User], cursor: str) -> None:
    assert as_viewer.get(PEOPLE, {"cursor": cursor}).status_code == 400


@pytest.mark.parametrize(
    "cursor",
    [
        Cursor("password,pk", False, ["a", 1]),
        Cursor("username,pk", False, ["a"]),
        Cursor("#", False, [3]),
    ],
)
def test_it_refuses_cursors_of_another_list(as_viewer: APIClient, people: list[User], cursor: Cursor) -> None:
    assert as_viewer.get(PEOPLE, {"cursor": encode(cursor)}).status_code == 400


@given(text=st.text(max_size=60))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=some_of(50))
def test_it_answers_any_cursor_without_failing(as_viewer: APIClient, text: str) -> None:
    assert as_viewer.get(PEOPLE, {"cursor": text}).status_code == 400


def test_a_changed_letter_spoils_a_cursor(as_viewer: APIClient, people: list[User]) -> None:
    good = as_viewer.get(f"{PEOPLE}?limit=3").json()["next"]
    at = good.index("cursor=") + len("cursor=")
    for place in range(at, len(good)):
        changed = good[:place] + ("A" if good[place] != "A" else "B") + good[place + 1 :]
        assert as_viewer.get(changed).status_code == 400


def test_a_cursor_brings_its_values_back() -> None:
    values: list[Any] = [
        Decimal("0.396875"),
        START + timedelta(microseconds=1),
        START.date(),
        UUID(int=7),
        None,
        "x",
    ]
    assert decode(encode(Cursor("a,pk", True, values))) == Cursor("a,pk", True, values)


def test_it_pages_a_plain_list(as_viewer: APIClient) -> None:
    page = as_viewer.get("/api/v1/try/listed/?limit=3").json()
    assert page["results"] == [0, 1, 2]
    page = as_viewer.get(page["next"]).json()
    assert page["results"] == [3, 4, 5]
    assert as_viewer.get(page["previous"]).json()["results"] == [0, 1, 2]
    assert as_viewer.get(page["next"]).json() | {"previous": None} == {
        "next": None,
        "previous": None,
        "stopped_after": None,
        "results": [6],
    }
