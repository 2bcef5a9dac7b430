"""What a reader sees while the database is away: by a wrapper of its connection that refuses each statement, as a lost server does.

A database that is stopped, full or read-only in fact: `tests/proof/test_database_lost.py`.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError, connection
from django.test import Client

from inventory.models import Item, Recommendation, StockEntry, StockPolicy
from tests.api.screens.planning.test_decisions import client_of, to_decide
from tests.factories import ItemFactory, StoreroomFactory, stock
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
FIELD = re.compile(r'<input type="hidden" name="([^"]+)" value="([^"]*)"')


@contextmanager
def database_away() -> Iterator[None]:
    def refuse(*_: Any) -> None:
        raise OperationalError("server closed the connection unexpectedly")

    with connection.execute_wrapper(refuse):
        yield


def hidden_fields(answer: Any) -> dict[str, str]:
    return {name: unescape(value) for name, value in FIELD.findall(answer.content.decode())}


@pytest.fixture
def item() -> Item:
    found = ItemFactory(stock_number="SPR-1")
    stock(found, StoreroomFactory(code="MAIN"), 3)
    return found


def issue_form(clerk: Client) -> dict[str, str]:
    page = clerk.get("/counter/issue/", {"item": "SPR-1"})
    assert page.status_code == 200
    form = page.context["form"]
    filled = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    return filled | {"item": "SPR-1", "shelf": "MAIN/new", "quantity": "2", "work_order": 'WO "7" <b>'}


def test_what_was_typed_is_kept_and_sent_again_it_is_booked_once(item: Item) -> None:
    clerk = signed_in("storeroom")
    form = issue_form(clerk)
    with database_away():
        away = clerk.post("/counter/issue/", form)
    assert (away.status_code, away["Retry-After"]) == (503, "5")
    text = away.content.decode()
    assert "cannot be reached" in text
    assert "it takes effect once" in text
    assert "WO &quot;7&quot; &lt;b&gt;" in text
    assert text.count(form["key"]) == 1
    again = hidden_fields(away)
    assert {name: again[name] for name in form} == {name: str(value) for name, value in form.items()}
    first = clerk.post("/counter/issue/", again)
    assert first.status_code == 302, first.context["form"].errors
    assert clerk.post("/counter/issue/", again).status_code == 302
    assert list(StockEntry.objects.filter(kind="issue").values_list("change", "work_order")) == [
        (-2, 'WO "7" <b>')
    ]


def test_a_page_that_was_only_read_is_offered_again() -> None:
    clerk = signed_in("storeroom")
    with database_away():
        away = clerk.get("/items/SPR-1/?x=1")
    assert (away.status_code, away["Retry-After"]) == (503, "5")
    assert 'href="/items/SPR-1/?x=1"' in away.content.decode()
    assert "Send again" not in away.content.decode()


def test_a_password_is_asked_for_again_and_never_written_into_a_page() -> None:
    with database_away():
        away = Client().post("/login/?next=/lists/", {"username": "marta", "password": "barley-and-water"})
    text = away.content.decode()
    assert (away.status_code, away["Retry-After"]) == (503, "5")
    assert "barley-and-water" not in text
    assert hidden_fields(away)["username"] == "marta"
    assert '<input id="again-password" name="password" type="password"' in text
    assert 'action="/login/?next=/lists/"' in text


def test_a_file_is_asked_for_again() -> None:
    clerk = signed_in("storeroom")
    with database_away():
        away = clerk.post("/counter/issue/", {"file": SimpleUploadedFile("a.csv", b"x"), "username": "x"})
    assert away.status_code == 503
    assert 'name="file" type="file"' in away.content.decode()


def test_a_database_that_takes_no_changes_refuses_a_page_as_it_does_a_program(item: Item) -> None:
    clerk = signed_in("storeroom")
    form = issue_form(clerk)

    def refuse_writes(execute: Any, sql: str, *rest: Any) -> Any:
        if sql.lstrip().upper().startswith(("INSERT", "UPDATE")):
            raise OperationalError("attempt to write a readonly database")
        return execute(sql, *rest)

    with connection.execute_wrapper(refuse_writes):
        refused = clerk.post("/counter/issue/", form)
    assert (refused.status_code, refused["Retry-After"]) == (503, "5")
    assert "takes no changes" in refused.content.decode()
    assert hidden_fields(refused)["key"] == form["key"]


def test_a_refused_act_answers_409_and_a_bad_field_400(item: Item) -> None:
    clerk = signed_in("storeroom")
    assert clerk.post("/counter/issue/", issue_form(clerk) | {"quantity": "9"}).status_code == 409
    assert clerk.post("/counter/issue/", issue_form(clerk) | {"quantity": "x"}).status_code == 400


@pytest.mark.parametrize(
    "form",
    [
        {"decision": "accept"},
        {"decision": "decline", "reason": "Two lie in the hall"},
        {"decision": "none", "reason": "The drive goes in spring"},
        {"decision": "amend", "reorder_point": "3", "order_up_to": "5", "reason": "Kiln rebuild in May"},
    ],
)
def test_a_second_click_on_a_decision_reads_what_the_first_did(form: dict[str, str]) -> None:
    chief, record = client_of("manager"), to_decide()
    address = f"/planning/{record.pk}/"
    sent = {**form, "key": "k"}
    assert [chief.post(address, sent).status_code for _ in range(2)] == [302, 302]
    assert chief.get(address).content.decode().count("Decided.") == 1
    chief.post(address, sent)
    assert "This was done already: Decided." in chief.get(address).content.decode()
    assert Recommendation.objects.get(pk=record.pk).decision_reason == form.get("reason", "")
    other = chief.post(
        address, {"decision": "amend", "reorder_point": "8", "order_up_to": "9", "reason": "x"}
    )
    assert other.status_code == 409
    assert not StockPolicy.objects.filter(order_up_to=9).exists()
