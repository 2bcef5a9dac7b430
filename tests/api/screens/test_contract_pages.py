"""The pages of the contract: reference by resource, guide, and what each kind of refusal means."""

from html.parser import HTMLParser
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from api.edge.errors import KINDS
from api.screens.contract import reference

pytestmark = pytest.mark.django_db
DOCS = "/api/v1/docs/"
LARGEST_PAGE = 100_000


@pytest.fixture
def reader(client: Client) -> Client:
    client.force_login(get_user_model().objects.create_user("reader"))
    return client


class Page(HTMLParser):
    def __init__(self, response: Any) -> None:
        super().__init__()
        assert response.status_code == 200
        self.fetched: list[str] = []
        self.ids: list[str] = []
        self.places: list[str] = []
        self.titles = 0
        self.feed(response.content.decode())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        assert not {"style", "onclick"} & set(found)
        self.titles += tag == "h1"
        if tag in ("link", "img", "script"):
            self.fetched.append(found.get("href") or found.get("src") or "")
        if found.get("id"):
            self.ids.append(str(found["id"]))
        address, _, place = str(found.get("href")).partition("#")
        if tag == "a" and place and not (address and "/members/" not in address):
            self.places.append(place)


@pytest.mark.sqlite
def test_every_resource_has_a_page_of_its_own_that_needs_nothing_from_elsewhere(reader: Client) -> None:
    for name, _ in reference.names():
        shown = [reader.get(f"{DOCS}{name}/"), reader.get(f"{DOCS}{name}/members/")]
        pages = [Page(response) for response in shown]
        for response, page in zip(shown, pages, strict=True):
            assert len(response.content) < LARGEST_PAGE, (name, len(response.content))
            assert all(address.startswith("/static/") for address in page.fetched)
            assert len(page.ids) == len(set(page.ids)), name
            assert page.titles == 1
            assert set(page.places) <= set(pages[1].ids) | {"content"}, name
            assert "unsafe" not in response["Content-Security-Policy"]


def test_a_page_shows_answers_words_and_examples(reader: Client) -> None:
    members = reader.get(f"{DOCS}movements/members/").content.decode()
    assert "What the shelf holds after it." in members
    assert "receipt | issue | return" in members
    assert "Idempotency-Key" in reader.get(f"{DOCS}movements/").content.decode()
    assert "&quot;stock_number&quot;" in reader.get(f"{DOCS}items/").content.decode()


def test_the_first_page_leads_to_all_of_them_and_to_the_guide(reader: Client) -> None:
    response = reader.get(DOCS)
    text = response.content.decode()
    assert all(f'href="{DOCS}{name}/"' in text for name, _ in reference.names())
    assert 'href="/api/v1/guide/"' in text
    assert len(response.content) < LARGEST_PAGE
    assert reader.get("/api/v1/guide/").status_code == 200
    assert reader.get(f"{DOCS}nothing/").status_code == 404


@pytest.mark.parametrize("address", [DOCS, f"{DOCS}items/", "/api/v1/guide/", "/api/v1/guide/changes/"])
def test_signed_out_they_lead_to_the_log_in(client: Client, address: str) -> None:
    response = client.get(address)
    assert (response.status_code, response["Location"]) == (302, f"/login/?next={address}")


@pytest.mark.parametrize("slug", [slug for slug, _ in KINDS.values()])
def test_the_type_of_a_problem_is_a_page_that_explains_it(client: Client, slug: str) -> None:
    shown = client.get(f"/problems/{slug}", HTTP_ACCEPT="text/html")
    told = client.get(f"/problems/{slug}", HTTP_ACCEPT="application/json")
    assert Page(shown).titles == 1
    assert told.json()["type"] == f"/problems/{slug}"
    assert told.json()["what_to_do"]


def test_all_kinds_of_problems_are_listed(client: Client) -> None:
    listed = client.get("/problems/", HTTP_ACCEPT="application/json").json()["problems"]
    assert [one["status"] for one in listed] == list(KINDS)
    assert client.get("/problems/nothing").status_code == 404
