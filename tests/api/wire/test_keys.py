"""One key, however it is typed: accents beside their letters, capitals, letters of another alphabet."""

import pytest
from rest_framework.test import APIClient

from api.wire.cells import foreign_letter
from tests.api.records import errors

ITEMS = "/api/v1/items/"
DECOMPOSED = "A\u0308B-1"


@pytest.fixture
def item(as_manager: APIClient) -> APIClient:
    assert as_manager.post(ITEMS, {"stock_number": DECOMPOSED}).json()["stock_number"] == "ÄB-1"
    return as_manager


@pytest.mark.django_db
@pytest.mark.parametrize("typed", ["ÄB-1", "äb-1", DECOMPOSED, DECOMPOSED.lower(), "Äb-1"])
def test_a_key_is_found_and_refused_however_it_is_typed(item: APIClient, typed: str) -> None:
    assert item.post(ITEMS, {"stock_number": typed}).status_code == 409
    found = item.get(ITEMS, {"q": typed}).json()["results"]
    assert [one["stock_number"] for one in found] == ["ÄB-1"]


@pytest.mark.django_db
def test_an_accent_beside_its_letter_names_the_same_record(item: APIClient) -> None:
    assert item.get(f"{ITEMS}{DECOMPOSED}/").status_code == 200
    body = {"stock_number": "NEXT-1", "replaced_by": DECOMPOSED}
    made = item.post(ITEMS, body)
    assert (made.status_code, made.json()["replaced_by"]) == (201, "ÄB-1"), made.content


@pytest.mark.django_db
def test_a_record_keeps_its_key_in_another_case(item: APIClient) -> None:
    etag = item.get(f"{ITEMS}ÄB-1/")["ETag"]
    changed = item.patch(f"{ITEMS}ÄB-1/", {"stock_number": "äb-1"}, HTTP_IF_MATCH=etag)
    assert changed.json()["stock_number"] == "äb-1"


@pytest.mark.django_db
def test_a_look_alike_letter_of_another_alphabet_is_named(as_manager: APIClient) -> None:
    refused = as_manager.post(ITEMS, {"stock_number": "SР-1"})
    assert "the letter Р is not the Latin P" in errors(refused)["/stock_number"]


@pytest.mark.parametrize(
    ("key", "letter"), [("SР-1", "Р"), ("ЭЛ-1", ""), ("АВ-1", ""), ("SP-1", ""), ("Ø35-A", ""), ("Ω-B", "")]
)
def test_only_a_mixture_with_latin_letters_is_doubtful(key: str, letter: str) -> None:
    assert foreign_letter(key) == letter
