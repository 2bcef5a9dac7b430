from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import Group, User
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.api.edge.edge_site")]
PEOPLE = "/api/v1/try/people/"
NAMES = [
    "id",
    "id__gte",
    "id__lte",
    "last_login__gte",
    "last_login__lte",
    "username",
    "first_name",
    "is_active",
    "q",
]


@pytest.fixture(autouse=True)
def people(db: None) -> list[User]:
    names = [("ann", "Ann"), ("bob", "Bob"), ("cy", "Cy")]
    return [
        User.objects.create(
            username=name,
            first_name=first,
            is_active=name != "cy",
            last_login=datetime(2026, 1, at, tzinfo=UTC),
        )
        for at, (name, first) in enumerate(names, 1)
    ]


def found(client: APIClient, **query: object) -> list[str]:
    response = client.get(PEOPLE, query)
    assert response.status_code == 200, response.content
    return [one["username"] for one in response.json()["results"]]


def refused(client: APIClient, query: str) -> dict[str, str]:
    response = client.get(f"{PEOPLE}?{query}")
    assert response.status_code == 400, response.content
    return {row["parameter"]: row["detail"] for row in response.json()["errors"]}


def test_it_filters(as_viewer: APIClient, people: list[User]) -> None:
    assert found(as_viewer, id=people[1].pk) == ["bob"]
    assert found(as_viewer, id__gte=people[1].pk) == ["bob", "cy"]
    assert found(as_viewer, id__gte=people[0].pk, id__lte=people[1].pk) == ["ann", "bob"]
    assert found(as_viewer, first_name="Ann,Cy") == ["ann", "cy"]
    assert found(as_viewer, is_active="false") == ["cy"]
    assert found(as_viewer, last_login__gte="2026-01-03T00:00:00+01:00") == ["cy"]
    assert found(as_viewer, q="b o") == ["bob"]


@pytest.mark.parametrize("name", NAMES)
def test_one_letter_changed_is_refused_and_the_name_offered(as_viewer: APIClient, name: str) -> None:
    assert set(refused(as_viewer, f"{name}x=1")) == {f"{name}x"}


def test_it_names_all_that_is_wrong_at_once(as_viewer: APIClient) -> None:
    wrong = refused(as_viewer, "usernam=x&id=1e400&is_active=yes&limit=0&ordering=password")
    assert set(wrong) == {"usernam", "id", "is_active", "limit", "ordering"}
    assert wrong["usernam"] == 'There is no such parameter. Did you mean "username"?'


@pytest.mark.parametrize(
    "query",
    [
        "id=nan",
        "id=inf",
        "id=１",
        "id=1_0",
        "id=1.5",
        "id=-1",
        "id=" + "9" * 30,
        "id=",
        "id=1&id=2",
        "is_active=1",
        "is_active=True",
        "first_name=Dan",
        "first_name=Ann,,Bob",
        "username=%00",
        "username=" + "a," * 200 + "a",
        "last_login__gte=2026-01-01",
        "last_login__gte=2026-01-01T00:00:00",
        "password__startswith=a",
        "groups__name=x",
        "q=" + "x" * 300,
        "q=" + "a+" * 20,
    ],
)
def test_it_refuses_what_it_does_not_understand(as_viewer: APIClient, query: str) -> None:
    assert refused(as_viewer, query)


def test_a_choice_that_is_none_is_answered_with_the_list(as_viewer: APIClient) -> None:
    assert refused(as_viewer, "first_name=An")["first_name"] == (
        '"An" is not one of: Ann, Bob, Cy. Did you mean "Ann"?'
    )


def test_a_single_record_takes_no_filters(as_viewer: APIClient, people: list[User]) -> None:
    assert as_viewer.get(f"{PEOPLE}{people[0].pk}/?username=ann").status_code == 400


def test_rows_below_a_record_are_filtered_and_paged(as_viewer: APIClient, people: list[User]) -> None:
    group = Group.objects.create(name="fitters")
    group.user_set.set(people)
    address = f"/api/v1/try/groups/{group.pk}/members/"
    page = as_viewer.get(address, {"limit": 1, "first_name": "Ann,Bob"}).json()
    assert [one["username"] for one in page["results"]] == ["ann"]
    assert [one["username"] for one in as_viewer.get(page["next"]).json()["results"]] == ["bob"]
    assert as_viewer.get(address, {"name": "x"}).status_code == 400


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("teeth=17", 200),
        ("teeth=17&strands=2", 200),
        ("strands=2", 400),
        ("teeth=5", 400),
        ("teeth=17&x=1", 400),
    ],
)
def test_an_address_that_is_no_list_reads_its_form(as_viewer: APIClient, query: str, status: int) -> None:
    assert as_viewer.get(f"/api/v1/try/teeth/?{query}").status_code == status


@given(name=st.sampled_from(NAMES), text=st.text(max_size=30))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_text_makes_a_filter_fail(as_viewer: APIClient, name: str, text: str) -> None:
    assert as_viewer.get(PEOPLE, {name: text}).status_code in (200, 400)
