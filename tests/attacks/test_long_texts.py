"""200 kB of script in every free text: what takes text says how much, and what is shown is inert.

`PROOF=long` sends it in every text of every body and of every form of the pages; the short variant reads the limits of bodies and
forms. What stands in the columns is shown on every page by `test_21_to_26_words_that_bite.py`.
"""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin

import pytest
from django import forms
from django.apps import apps
from django.db import connection, transaction
from django.db.models.functions import Length
from django.test import Client
from django.urls import reverse

from api.edge import schema
from api.models import ImportSet
from drives.models import Position
from inventory.models import StockPolicy
from tests import factories as make
from tests.attacks.every_text import MUCH, text_columns
from tests.attacks.sites import WEIR, site
from tests.attacks.test_hidden_and_absent import at, body_of, collection_of, described, sent
from tests.every_page import one_of_each
from tests.examples import IS_LONG

LONG = pytest.mark.skipif(not IS_LONG, reason="PROOF=long sends 200 kB in every text")
ON_SQLITE = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="PostgreSQL holds the length of each column"
)
pytestmark = pytest.mark.django_db
LIVE = re.compile(r"<script>alert|<img src=x|onerror=alert", re.I)
PLAIN = {"date", "date-time", "time", "decimal", "email"}


def resolved(part: Any) -> Any:
    while "$ref" in part:
        part = schema.document()["components"]["schemas"][part["$ref"].rpartition("/")[2]]
    return part


def texts_of(part: Any, before: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """The place of each text in a body, with its description."""
    part = resolved(part)
    kinds = part.get("type", ())
    if "string" in ([kinds] if isinstance(kinds, str) else kinds):
        yield before, part
    for one in (*part.get("oneOf", ()), *part.get("anyOf", ())):
        yield from texts_of(one, before)
    if "items" in part:
        yield from texts_of(part["items"], (*before, 0))
    for name, one in part.get("properties", {}).items():
        yield from texts_of(one, (*before, name))


def bodies() -> Iterator[tuple[str, str, str, Any]]:
    for method, path, name, _ in described():
        content = schema.document()["paths"][path][method].get("requestBody", {}).get("content", {})
        if part := content.get("application/json", {}).get("schema"):
            yield method, path, name, part


REFERENCES = {
    *("area", "drive", "equipment", "from_storeroom", "to_storeroom", "instead_of", "into", "issued_item"),
    *("item", "machine_shop", "plant", "position", "replaced_by", "storeroom"),
}
"""Keys of records: what is not one is refused, and the refusal quotes 80 characters of it."""


def test_every_text_of_a_body_has_a_limit() -> None:
    endless = {
        f"{name} {place}"
        for _, _, name, part in bodies()
        for place, text in texts_of(part)
        if not text.keys() & {"maxLength", "enum", "const", "pattern"}
        and text.get("format") not in PLAIN
        and place[-1] not in REFERENCES
    }
    assert endless == set()


def every_form(kind: type[forms.Form] = forms.Form) -> Iterator[type[forms.Form]]:
    for one in kind.__subclasses__():
        if one.__module__.startswith("api.screens"):
            yield one
        yield from every_form(one)


def test_every_text_of_a_form_has_a_limit() -> None:
    endless = {
        f"{form.__module__}.{form.__name__}.{name}"
        for form in every_form()
        for name, field in form.base_fields.items()
        if type(field) is forms.CharField and field.max_length is None and "password" not in name
    }
    assert endless == set()


def put(body: Any, place: tuple[Any, ...], value: str) -> Any:
    """The body with the value at that place, through what stands there."""
    if not place:
        return value
    at_first, *rest = place
    if at_first == 0:
        return [put(body[0] if isinstance(body, list) and body else {}, tuple(rest), value)]
    known = body if isinstance(body, dict) else {}
    return {**known, at_first: put(known.get(at_first), tuple(rest), value)}


def longest_stored() -> Iterator[str]:
    """Columns with more in them than they are for; SQLite would take it."""
    for model in apps.get_models():
        for field in text_columns(model):
            most = field.max_length or 2_000
            rows = model._base_manager.annotate(long=Length(field.name)).filter(long__gt=most)
            if field.name not in ("secret", "previous_secret") and rows.exists():
                yield f"{model._meta.label}.{field.name}"


@LONG
def test_200_kb_in_any_text_of_a_body_is_refused_by_its_name(client_for: Any) -> None:
    there = site(WEIR)
    clients = {role: client_for(role) for role in ("manager", "integration")}
    tried, wrong = 0, []
    for method, path, name, part in bodies():
        key = there.keys.get(collection_of(path))
        if "{" in path and key is None:
            continue
        client = clients["integration" if method == "put" and "/" in str(key) else "manager"]
        for place, _ in texts_of(part):
            response = sent(client, method, at(path, key), put(body_of(name, there), place, MUCH))
            tried += 1
            told, status = response.json(), response.status_code
            if "results" in told:  # Of a batch, each element has an answer of its own.
                told, place, status = told["results"][0], place[2:], told["results"][0]["status"]
            pointers = [row["pointer"] for row in told.get("errors", ())]
            is_named = any("".join(f"/{one}" for one in place).startswith(one) for one in pointers)
            is_refused = is_named if status == 400 else status in (403, 404, 405, 409)
            if not is_refused or len(response.content) > 20_000:
                wrong.append((name, place, status, len(response.content), pointers[:3]))
    print(f"{tried} texts of bodies")
    assert not wrong, "\n".join(map(str, wrong))
    assert tried > 300


class Forms(HTMLParser):
    """The forms of a page that are sent by POST: where to, and what stands in each field."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str], list[str]]] = []
        self.is_open = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form" and given.get("method", "").lower() == "post":
            self.found.append((given.get("action", ""), {}, []))
            self.is_open = True
        elif self.is_open and given.get("name") and tag in ("input", "textarea", "select", "button"):
            _, values, texts = self.found[-1]
            values.setdefault(given["name"], given.get("value", ""))
            if tag == "textarea" or given.get("type", "text") in ("text", "search", "hidden", "tel", "email"):
                texts.append(given["name"])

    def handle_endtag(self, tag: str) -> None:
        self.is_open = self.is_open and tag != "form"


def test_200_kb_in_every_field_of_a_form_of_the_administration_are_refused() -> None:
    client = Client()
    client.force_login(make.AdminFactory())
    for model in (Position, StockPolicy):
        page = reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_add")
        shown = client.get(page)
        ((_, values, _), *_) = [one for one in Forms(shown.content.decode()).found if len(one[1]) > 3]
        kept = {
            name: value for name, value in values.items() if name.endswith(("TOTAL_FORMS", "INITIAL_FORMS"))
        }
        response = client.post(page, dict.fromkeys(values, MUCH) | kept)
        assert (response.status_code, bool(response.context["adminform"].form.errors)) == (200, True), page


@LONG
@ON_SQLITE
def test_200_kb_in_any_text_of_a_page_is_refused_or_cut() -> None:
    site(WEIR)
    ImportSet.objects.create(name="spring", source="west", by_name="Ines", state="refused")
    client = Client()
    client.force_login(make.AdminFactory())
    tried, wrong = set(), []
    pages = [*one_of_each("WEIR-P1", "SPR-BOTH")]
    for page in pages:
        if re.fullmatch(r"/deliveries/\d+/", page):
            continue  # The check of this site was written without the entry that it undoes.
        for written, values, texts in Forms(client.get(page).content.decode()).found:
            action = urljoin(page, written)
            for name in texts:
                if (action, name) in tried or name == "csrfmiddlewaretoken":
                    continue
                tried.add((action, name))
                with transaction.atomic():
                    response = client.post(action, {**values, name: MUCH})
                    if response.status_code >= 500:
                        wrong.append((action, name))
                    assert not LIVE.search(response.content.decode()), (page, action, name)
                    if response.status_code in (200, 302):
                        assert [*longest_stored()] == [], (page, action, name)
                    transaction.set_rollback(True)
    print(f"{len(tried)} texts of forms")
    assert not wrong, wrong
    assert len(tried) > 50
