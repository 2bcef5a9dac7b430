"""Attacks 21 to 26: statements, markup, scripts and formulas in what is only words."""

import base64
import re
import time
from functools import cache
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.core.signing import Signer
from django.db import models
from django.test import Client
from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from api.models import ImportRun, ImportSet, ImportSheet, SentFile
from drives.models import Cover, Drive, MissingAttribute
from inventory.facts import fact
from inventory.models import FitQuestion, Item, Kit, Reservation, RunDown, Specification
from inventory.stores.counting.count_requests import request_count
from tests import factories as make
from tests.api.records import EVERY, Resource
from tests.attacks.every_text import MUCH, write_into_every_text
from tests.attacks.test_01_to_05_reach import LISTS
from tests.every_page import one_of_each
from tests.examples import IS_LONG
from tests.jobs import get_calculated
from tests.movements import return_to_stock

pytestmark = pytest.mark.django_db

STATEMENTS = [
    "' OR 1=1 --",
    '"; DROP TABLE inventory_item; --',
    "') UNION SELECT password FROM auth_user --",
    "%' AND sleep(9) --",
    "1;SELECT pg_sleep(9)",
    "\\'; --",
    "{{7*7}}${7*7}",
    "%s%(x)s%n",
]
THROUGH = [
    "created_by__password",
    "item__stock_number__startswith",
    "position__drive__equipment__area__plant__code",
    "recorded_by__password",
    "-recorded_by__password",
    "storeroom__levels__on_hand",
    "pk",
    "?",
    "id;DROP",
    "1",
    "id,password",
]
PROBLEM = "application/problem+json"
ALLOWED = {200, 400, 404, 406}


def each(resources: list[Resource]) -> Any:
    return pytest.mark.parametrize("resource", resources, ids=lambda one: one.name)


@cache
def document() -> dict[str, Any]:
    made: dict[str, Any] = SchemaGenerator().get_schema(public=True)
    return made


def filters_of(route: str) -> list[str]:
    """Every query parameter of a list, as the schema names them."""
    found = document()["paths"].get(f"/{route}", {}).get("get", {}).get("parameters", [])
    return [one["name"] for one in found if one["in"] == "query"]


@pytest.mark.parametrize("route", LISTS)
def test_21_statements_in_a_parameter_are_words_or_refused(route: str, as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-KEPT")
    for turn in (0, 3):
        texts = {name: STATEMENTS[(at + turn) % len(STATEMENTS)] for at, name in enumerate(filters_of(route))}
        # What is refused by name beside all others is refused; what is not is asked alone.
        together = as_manager.get(f"/{route}", texts)
        assert together.status_code in ALLOWED or not texts, texts
        errors = together.json()["errors"] if together.status_code == 400 else ()
        refused = {row["parameter"] for row in errors}
        for name in texts.keys() - refused:
            began = time.perf_counter()
            response = as_manager.get(f"/{route}", {name: texts[name]})
            assert response.status_code in ALLOWED, (name, texts[name])
            if response.status_code == 200 and "results" in response.json():
                assert response.json()["results"] == [], (name, texts[name])
            assert time.perf_counter() - began < 5
    assert Item.objects.filter(stock_number="SPR-KEPT").exists()


@each(EVERY)
def test_22_a_list_is_ordered_by_nothing_that_is_not_offered(
    resource: Resource, as_viewer: APIClient
) -> None:
    for ordering in THROUGH:
        response = as_viewer.get(resource.path, {"ordering": ordering})
        assert (response.status_code, response["Content-Type"]) == (400, PROBLEM), ordering


RELATED = [
    *("created_by__password__startswith", "recorded_by__password", "item__levels__on_hand__gte"),
    *("id__in", "pk", "storeroom__code__regex", "q__icontains", "stock_number__contains", "note__gt"),
]


@each(EVERY)
def test_23_a_filter_goes_through_no_relation(resource: Resource, as_viewer: APIClient) -> None:
    for name in RELATED:
        response = as_viewer.get(resource.path, {name: "a"})
        assert (response.status_code, response["Content-Type"]) == (400, PROBLEM), name


FORGED = [
    base64.b64encode(b"p=abc").decode(),
    base64.b64encode(b"p=\x00").decode(),
    "a" * 9_000,
    "\N{GRINNING FACE}",
    ":",
    "W10:x",
    '{"__proto__":1}',
    Signer(salt="other").sign_object(["pk", False, [1]]),
]


@each(EVERY)
def test_a_forged_cursor_is_refused(resource: Resource, as_viewer: APIClient) -> None:
    for cursor in FORGED:
        response = as_viewer.get(resource.path, {"cursor": cursor})
        assert (response.status_code, response["Content-Type"]) == (400, PROBLEM), cursor


def test_a_cursor_of_another_list_is_refused(as_viewer: APIClient) -> None:
    for n in range(3):
        make.ItemFactory(stock_number=f"SPR-{n}")
    cursor = as_viewer.get("/api/v1/items/?limit=1").json()["next"].partition("cursor=")[2]
    assert as_viewer.get(f"/api/v1/drives/?cursor={cursor}").status_code == 400


MARKUP = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "'-alert(1)-'",
    "</title><script>alert(1)</script>",
    "{{ constructor }}",
]
LIVE = re.compile(r"<script>alert|<img src=x|<svg onload|onerror=alert\(1\)>", re.I)


ON_SQLITE = [*MARKUP[1:], *([MUCH] if IS_LONG else [])]
"""The last fills each column."""


@pytest.mark.parametrize(
    "words",
    [MARKUP[0], *(pytest.param(words, marks=pytest.mark.sqlite, id=words[:12]) for words in ON_SQLITE)],
)
def test_24_words_are_shown_as_words_on_every_page(words: str) -> None:
    chief, whole, words = make.AdminFactory(), words, words[:60]
    room = make.StoreroomFactory(name=words[:60])
    item = make.ItemFactory(stock_number="SPR-BITE", description=words, maker=words[:60], note=words)
    make.stock(item, room, 1, reason=words[:80], reference=words[:80])
    position = make.PositionFactory(
        tag="BITE-P1", name=words, note=words, drive__tag="BITE-D1", drive__name=words
    )
    make.InstallationFactory(position=position, item=item, note=words)
    Drive.objects.update(note=words, criticality="vital")
    ImportRun.objects.create(kind="items", file_name=words, state="done")
    sent = ImportSet.objects.create(name=words, source=words[:40], by_name=words, state="refused")
    ImportSheet.objects.create(
        set=sent,
        file=SentFile.objects.create(set=sent, number=0, name=words),
        number=1,
        name=words,
        kind="items",
        columns=[words],
        row_results=[
            {
                "line": 2,
                "key": words,
                "outcome": "updated",
                "errors": [{"column": words, **fact("cell_not_number", cell=words).as_json()}],
                "changes": [{"column": words, "before": words, "after": words}],
            }
        ],
    )
    RunDown.objects.create(item=item, reason=words, marked_by_name=words[:60])
    MissingAttribute.objects.create(position=position, item=item, attribute="material", is_alone=True)
    Specification.objects.filter(pk=item.specification_id).update(material="")
    request_count(item, room, "new", cause="asked", at=timezone.now())
    order = make.SupplyOrderFactory(item=item, storeroom=room, supplier=words[:60])
    make.DeliveryCheckFactory(order=order, reference=words[:60])
    make.RecommendationFactory(item=item, storeroom=room)
    make.SubstitutionRuleFactory(item=item, reason=words[:200], given_by=words[:150])
    back = return_to_stock(item, room, 1, by="jan", reason_code="did_not_fit", reason=words[:200])
    FitQuestion.objects.create(item=item, storeroom=room, entry=back.entry, work_order=words[:60])
    kit = Kit.objects.create(work_order=words[:60], storeroom=room, place=words[:60], made_by_name=words[:60])
    Reservation.objects.create(
        item=item,
        storeroom=room,
        kit=kit,
        work_order=words[:60],
        quantity=1,
        open_quantity=0,
        short_quantity=1,
        state="used",
        taken_by=words[:60],
        taken_reason=words[:60],
    )
    client = Client()
    client.force_login(chief)
    Cover.objects.create(position=position, item=make.ItemFactory(), grade="drop_in")
    assert "SPR-BITE" in client.get("/planning/measure-next/").content.decode()
    assert "SPR-BITE" in get_calculated(client, "/planning/orphans/").content.decode()
    assert "SPR-BITE" in get_calculated(client, "/planning/variety/").content.decode()
    written = write_into_every_text(whole)
    assert len(written) > 40, sorted(written)
    pages = [
        *one_of_each("BITE-P1", "SPR-BITE"),
        *(
            f"/hits/?q={words}",
            "/?q=bite",
            "/imports/templates/items.csv",
            f"/planning/missing/?plant={words}&page={words}",
            "/emergency/all.html",
            f"/labels/items/?q={words}&sheet={words}&first={words}",
            "/labels/items/?number=SPR-BITE",
            "/labels/items.html?outlines=1",
            "/labels/stock/",
            f"/lists/items/?q={words}&maker={words}&ordering={words}",
            "/lists/stock/",
            f"/lists/tree/?q={words}&plant={words}&level={words}&page={words}",
            f"/imports/?kind={words}",
            f"/feeds/?source={words}&kind={words}",
            f"/counter/issue/?item=SPR-BITE&position=BITE-P1&work_order={words}&then={words}",
            f"/counter/{words}/?item=SPR-BITE",
            f"/identify/?teeth={words}&outside_diameter_mm={words}",
            f"/identify/?teeth=17&skip={words}",
            f"/planning/figures/?since={words}&storeroom={words}",
            f"/planning/changes/?since={words}",
            f"/planning/settings/targets/vital/?effect=1&value={words}&kind={words}",
            "/planning/figures/dead_stock/",
            f"/planning/settings/items/SPR-BITE/?holding_reason={words}&then={words}",
            f"/planning/settings/drives/{words}/",
            f"/planning/jobs/?until={words}",
            f"/planning/buy/?storeroom={words}",
            f"/planning/duplicates/?likeness={words}&page={words}",
            f"/planning/?storeroom={words}",
            f"/planning/accept/?storeroom={words}&limit={words}&change={words}",
            f"/planning/variety/?worst_grade={words}&most_minutes={words}",
            f"/planning/orphans/?show={words}&page={words}",
            f"/planning/measure-next/?storeroom={words}&plant={words}&page={words}",
            f"/planning/rules/?item={words}&reason={words}&ended={words}&page={words}",
        ),
        *(
            "/admin/inventory/item/",
            f"/admin/inventory/item/{item.pk}/change/",
            "/admin/inventory/stockentry/",
        ),
        *("/admin/inventory/storeroom/", "/admin/drives/position/", f"/admin/inventory/item/?q={words}"),
        *(f"/login/?next={words}", f"/{words}/"),
    ]
    for page in pages:
        response = client.get(page)
        assert response.status_code < 500, page
        assert not LIVE.search(response.content.decode()), page


def test_24_json_is_never_taken_for_a_page(as_viewer: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-BITE", description=MARKUP[0])
    response = as_viewer.get("/api/v1/items/", HTTP_ACCEPT="text/html,*/*")
    assert response["Content-Type"].startswith("application/json")
    assert response["X-Content-Type-Options"] == "nosniff"


def test_24_a_refusal_gives_words_back_as_json(as_viewer: APIClient) -> None:
    response = as_viewer.get("/api/v1/items/", {"ordering": MARKUP[0]})
    assert response["Content-Type"] == PROBLEM
    assert "default-src 'none'" in response["Content-Security-Policy"]


def test_25_no_record_holds_an_address_that_a_page_would_follow() -> None:
    """Nothing but a webhook keeps an address, and none is ever a link: see tests/api/webhooks for what it may be."""
    found = {
        f"{model._meta.label}.{field.name}"
        for model in apps.get_models()
        if model._meta.app_label in ("inventory", "drives", "api")
        for field in model._meta.concrete_fields
        if isinstance(field, models.URLField | models.FileField)
        or "url" in field.name
        or "href" in field.name
    }
    assert found == {"api.Webhook.url"}


@pytest.mark.parametrize(
    "address", ["javascript:alert(1)", "JaVaScRiPt:alert(1)", "data:text/html,x", "//x", "x\ny:"]
)
def test_25_a_script_is_no_address_of_a_webhook(address: str, as_manager: APIClient) -> None:
    response = as_manager.post("/api/v1/webhooks/", {"url": address})
    assert response.status_code == 400
    assert "/url" in {row["pointer"] for row in response.json()["errors"]}


@pytest.mark.parametrize(
    "address", ["javascript:alert(1)", "https://elsewhere.example/", "//elsewhere.example"]
)
def test_25_the_login_sends_nobody_elsewhere(address: str) -> None:
    User.objects.create_user("jonas", password="the kiln is warm")
    body = {"username": "jonas", "password": "the kiln is warm", "next": address}
    assert Client().post("/login/", body)["Location"] == "/"


FORMULAS = ["=1+1", "+1", "-1+cmd|' /C x'!A0", "@SUM(A1)", "\t=1", "\r=1", "＝1", "'=1", '=HYPERLINK("x")']


@pytest.mark.parametrize("text", FORMULAS)
def test_26_the_reorder_list_has_no_formula(text: str, as_manager: APIClient) -> None:
    item = make.ItemFactory(
        stock_number="SPR-1", maker_part_number=text.strip()[:40], description=text.strip()
    )
    make.StockPolicyFactory(item=item, storeroom=make.StoreroomFactory(), reorder_point=3, order_up_to=5)
    body = as_manager.get("/api/v1/reorder-list/?format=csv").getvalue().decode()
    assert "SPR-1" in body
    cells = re.findall(r'(?:^|,)"?([^,"\r\n]*)', body)
    assert not [cell for cell in cells if cell[:1] in "=+@\t＝" and cell]


def test_40_wildcards_and_patterns_are_words(as_viewer: APIClient) -> None:
    for n in range(50):
        make.ItemFactory(stock_number=f"SPR-{n}", description="a" * 190)
    for text in ("%" * 200, "_" * 200, "a" * 200, "\\" * 200, "(a+)+$" * 30, "[" * 200, "*" * 200):
        began = time.perf_counter()
        response = as_viewer.get("/api/v1/items/", {"q": text})
        assert time.perf_counter() - began < 3, text
        assert (response.status_code, response.json()["results"]) == (200, []), text
