import pytest
from rest_framework.test import APIClient

from drives.feed.code_mapping import VOCABULARY
from drives.models import CodeWord, Installation
from tests.api.records import change, errors, names
from tests.drives.feed.messages import closed, day, place, send, used

pytestmark = pytest.mark.django_db
LIST = "/api/v1/code-words/"


@pytest.fixture
def code(db: None) -> CodeWord:
    place()
    send("WO-1", closed(3, day(700), [used()], failure={"mechanism": "E-17"}))
    return CodeWord.objects.get()


def test_a_code_that_nobody_has_read_is_listed(code: CodeWord, as_viewer: APIClient) -> None:
    assert names(as_viewer.get(f"{LIST}?unread=true"), "code") == ["E-17"]
    assert (code.word, code.seen) == ("", 1)


def test_its_word_reaches_every_order_that_carries_it(code: CodeWord, as_manager: APIClient) -> None:
    response = change(as_manager, f"{LIST}{code.pk}/", {"word": "fracture"})
    assert (response.status_code, response.json()["read_by_name"]) == (200, "the manager")
    assert Installation.objects.get(work_order="WO-1").mechanism == "fracture"
    assert names(as_manager.get("/api/v1/work-orders/"), "unread_codes") == [{}]


def test_a_word_may_be_taken_back(code: CodeWord, as_manager: APIClient) -> None:
    change(as_manager, f"{LIST}{code.pk}/", {"word": "fracture"})
    change(as_manager, f"{LIST}{code.pk}/", {"word": None})
    assert Installation.objects.get(work_order="WO-1").mechanism == ""


def test_a_word_beyond_the_vocabulary_is_refused(code: CodeWord, as_manager: APIClient) -> None:
    response = change(as_manager, f"{LIST}{code.pk}/", {"word": "broken"})
    assert response.status_code == 400
    assert "fracture" in errors(response)["/word"]


def test_only_a_manager_reads_codes(code: CodeWord, as_integration: APIClient) -> None:
    assert change(as_integration, f"{LIST}{code.pk}/", {"word": "wear"}).status_code == 403


def test_a_code_known_before_is_read_at_once(code: CodeWord, as_manager: APIClient) -> None:
    change(as_manager, f"{LIST}{code.pk}/", {"word": "fatigue"})
    taken = send("WO-2", closed(3, day(800), [used()], failure={"mechanism": "E-17"}))
    assert taken.record is not None
    assert (taken.record.mechanism, taken.record.unread_codes) == ("fatigue", {})


def test_every_word_is_mapped_and_says_where_the_code_was_seen(as_viewer: APIClient) -> None:
    rows = as_viewer.get(f"{LIST}standard/").json()["results"]
    mapped = {(row["field"], row["word"]) for row in rows}
    assert mapped == {(field, word) for field, words in VOCABULARY.items() for word in words}
    assert all(row["source"] and row["confidence"] for row in rows)
