"""The main pages and the administration of the demo plant in German: nothing English is left in them but what people recorded."""

import csv
import re
from collections.abc import Iterator
from functools import cache
from html import unescape
from pathlib import Path

import pytest
from django.apps import apps
from django.contrib import admin
from django.contrib.auth import get_user_model
from django.db import models
from django.test import Client
from django.urls import reverse

from api.screens.lists.declared import LISTS
from inventory.models import Item, Recommendation
from tests.api.wording.test_catalogues import catalogue
from tests.factories import AdminFactory

pytestmark = pytest.mark.django_db

HOUSE = Path(__file__).resolve().parents[2]
LEFT_OUT = re.compile(
    r"""<(script|style|svg|textarea|code)\b.*?</\1>|<li class="panel" lang="en">.*?</li>""", re.S
)
"""Also a guide that is there in English alone, and says so."""
BLOCK = re.compile(r"<(?!/?(?:a|b|strong|em|span|kbd|abbr|time|bdi)\b)[^>]*>")
ENGLISH = re.compile(r"\b(the|of|and|is|are|with|from|which|until|not)\b", re.I)
WRITTEN_IN_ENGLISH = re.compile(r"\b20\d\d-\d\d-\d\d\b|\d\.\d{1,2} (?:mm|h|%|kW|EUR)(?!\w)")
PAGES = [
    *(
        "/",
        "/?q=12B+19T",
        "/?q=nothing+at+all",
        "/counter/shift/",
        "/identify/",
        "/lists/",
        "/help/",
        "/deliveries/",
    ),
    *(
        "/identify/?teeth=27&outside_diameter_mm=113.9&bore_mm=25",
        "/emergency/",
        "/labels/items/",
        "/labels/bins/",
    ),
    *(f"/lists/{name}/" for name in LISTS),
    *(f"/planning/{name}" for name in ("", "accept/", "backtest/", "duplicates/", "exposure/", "budget/")),
    *(
        f"/planning/{name}/"
        for name in ("measure-next", "figures", "jobs", "buy", "settings", "settings/terms")
    ),
    *(f"/planning/{name}/" for name in ("reorder", "orphans", "suppliers", "rules", "variety")),
    *("/positions/OM-DSP-SC01-D1-DRV/", "/positions/OM-DSP-BC01-D1-DRV/", "/positions/OM-KLN-KS02-D1-DRV/"),
    *("/positions/LW-DSP-HO01-D1-DRV/", "/positions/OM-INT-CC01-D1-DRV/", "/drives/OM-GER-CC01-D1/"),
    *("/drives/LW-GER-TN01-D1/", "/items/41-0135/", "/items/42-0205/", "/emergency/OM-INT-BE01-D1/"),
]


@cache
def cells() -> frozenset[str]:
    """Titles of sources, notes of tables and stories: quoted as they are."""
    found: set[str] = set()
    tables = (path for app in ("inventory", "drives") for path in (HOUSE / app).rglob("tables/*.csv"))
    for path in (*tables, HOUSE / "fixtures/stories.csv"):
        with path.open(encoding="utf-8") as stream:
            found |= {
                cell.replace("_", " ")
                for row in csv.reader(stream)
                for cell in row
                if " " in cell or "_" in cell
            }
    return frozenset(one.lower() for one in found)


@pytest.fixture(scope="module")
def recorded(demo_plant: None) -> list[str]:
    """What people wrote, in small letters, longest first."""
    found = set(cells())
    for app in ("inventory", "drives"):
        for model in apps.get_app_config(app).get_models():
            for field in model._meta.concrete_fields:
                if isinstance(field, models.CharField | models.TextField) and not field.choices:
                    values = model._base_manager.filter(**{f"{field.name}__contains": " "})
                    found |= {one.lower() for one in values.values_list(field.name, flat=True).distinct()}
    return sorted(found, key=len, reverse=True)


@pytest.fixture
def reader(demo_plant: None) -> Client:
    client = Client()
    client.force_login(get_user_model().objects.get(username="demo-manager"))
    client.cookies["language"] = "de"
    return client


@pytest.fixture
def administrator(demo_plant: None) -> Client:
    client = Client()
    client.force_login(AdminFactory())
    client.cookies["language"] = "de"
    return client


def texts_of(client: Client, address: str) -> set[str]:
    response = client.get(address, follow=True)
    assert response.status_code == 200, address
    parts = BLOCK.split(LEFT_OUT.sub("", response.content.decode()))
    plain = (re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", "", part))).strip() for part in parts)
    return {text for text in plain if text}


def not_recorded(text: str, recorded: list[str]) -> str:
    """The text without what people wrote."""
    rest = text.lower()
    for value in recorded:
        if value in rest:
            rest = rest.replace(value, "…")
    return rest


@cache
def english_texts() -> frozenset[str]:
    """Those that are several words long and read otherwise in German."""
    pairs = ((one.id, one.string) for one in catalogue("de") if isinstance(one.id, str))
    return frozenset(text for text, german in pairs if " " in text and text != german)


def left_in_english(texts: set[str], recorded: list[str]) -> Iterator[str]:
    for text in sorted(texts):
        if text in english_texts():
            yield text
        elif ENGLISH.search(text) or WRITTEN_IN_ENGLISH.search(text):
            rest = not_recorded(text, recorded)
            if ENGLISH.search(rest) or WRITTEN_IN_ENGLISH.search(rest):
                yield text


@pytest.mark.sqlite
def test_the_pages_hold_no_english(reader: Client, recorded: list[str]) -> None:
    advice = Recommendation.objects.filter(state="open").order_by("pk")[:3]
    pages = [*PAGES, *(reverse("screens:recommendation", args=[one.pk]) for one in advice)]
    found = {page: list(left_in_english(texts_of(reader, page), recorded)) for page in pages}
    assert {page: texts for page, texts in found.items() if texts} == {}


@pytest.mark.sqlite
def test_the_administration_holds_no_english(administrator: Client, recorded: list[str]) -> None:
    options = [model._meta for model in admin.site._registry]
    pages = [reverse(f"admin:{one.app_label}_{one.model_name}_changelist") for one in options]
    pages += [
        reverse(f"admin:{one.app_label}_{one.model_name}_add") for one in options if one.model_name in EDITED
    ]
    pages.append(reverse("admin:inventory_item_change", args=[Item.objects.order_by("pk")[0].pk]))
    found = {page: list(left_in_english(texts_of(administrator, page), recorded)) for page in pages}
    assert {page: texts for page, texts in found.items() if texts} == {}


EDITED = (
    "drive",
    "position",
    "specification",
    "item",
    "storeroom",
    "plant",
    "user",
    "group",
    "stockpolicy",
    "shoptime",
)


def test_english_is_recognised() -> None:
    texts = {
        "Stand of 12. Mai 2026",
        "Vorrat 3.5 mm",
        "seit 2026-05-12",
        "Fragen Sie den Ingenieur",
        "driver of the kiln",
    }
    assert list(left_in_english(texts, ["driver of the kiln"])) == [
        "Stand of 12. Mai 2026",
        "Vorrat 3.5 mm",
        "seit 2026-05-12",
    ]
