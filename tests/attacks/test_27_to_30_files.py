"""Attacks 27 to 30: files that are not what they say; more of the reading stands in tests/api/exchange/test_reading.py."""

import io
import time
import tracemalloc
import zipfile
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from api.models import ImportRun
from inventory.models import Item
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
CSV = "text/csv"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
ADDRESS = "/api/v1/imports/?kind=items"
PROBLEM = "application/problem+json"
MEGABYTE = 1_000_000


def sent(client: APIClient, body: bytes, kind: str) -> Any:
    return client.generic("POST", ADDRESS, body, content_type=kind)


def workbook(**members: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in {"[Content_Types].xml": b"<Types/>", **members}.items():
            archive.writestr(name, content)
    return made.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
LAUGHS = (
    b'<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    + b"".join(b'<!ENTITY %c "%s">' % (99 + n, b"&%c;" % (98 + n) * 10) for n in range(9))
)
BOMBS = {
    "expands a thousand times": lambda: workbook(**{SHEET: b"<row>" + b" " * 200 * MEGABYTE}),
    "ten thousand members": lambda: workbook(**{f"m{n}": b"" for n in range(10_000)}),
    "laughs": lambda: workbook(
        **{SHEET: LAUGHS + b"]><worksheet>&k;</worksheet>", "xl/workbook.xml": LAUGHS}
    ),
    "reads a file": lambda: workbook(
        **{
            "xl/workbook.xml": b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]><workbook>&e;</workbook>',
            SHEET: b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]><worksheet>&e;</worksheet>',
        }
    ),
    "climbs out": lambda: workbook(**{"../../../x": b"x"}),
    "is cut off": lambda: workbook(**{SHEET: b"<worksheet/>"})[:-30],
    "is text": lambda: b"stock_number\nX\n",
    "is a program": lambda: b"MZ" + b"\x00" * 500,
}


@pytest.mark.parametrize("bomb", BOMBS)
def test_27_28_a_workbook_that_is_none_is_refused_before_it_is_opened(
    bomb: str, as_manager: APIClient
) -> None:
    body = BOMBS[bomb]()
    tracemalloc.start()
    began = time.perf_counter()
    response = sent(as_manager, body, XLSX)
    seconds, (_, peak) = time.perf_counter() - began, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert (response.status_code, response["Content-Type"]) == (400, PROBLEM)
    assert "root:" not in response.content.decode()
    assert peak < 80 * MEGABYTE
    assert seconds < 20
    assert not ImportRun.objects.exists()


WRONG = {
    "NUL": b"stock_number\nX\x00Y\n",
    "a million columns": b",".join(b"c%d" % n for n in range(1_000_000)) + b"\nX\n",
    "a million cells": b"stock_number\n" + b"X," * 1_000_000 + b"\n",
    "a quote that never ends": b'stock_number\n"' + b"x" * MEGABYTE,
    "nothing": b"",
    "a picture": b"\x89PNG\r\n\x1a\n" + b"\x00" * 500,
    "a workbook": workbook(x=b"y"),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_29_what_is_no_table_is_refused_or_rejected_row_by_row(wrong: str, as_manager: APIClient) -> None:
    began = time.perf_counter()
    response = sent(as_manager, WRONG[wrong], CSV)
    assert time.perf_counter() - began < 10
    assert response.status_code in (202, 400, 413)
    if response.status_code == 202:
        run_queued_jobs()
        result = as_manager.get(response["Location"]).json()
        assert not result["written"]
        assert result["problems"] or result["rejected"]
    assert not Item.objects.exists()


@pytest.mark.parametrize("kind", ["application/json", "image/png", "application/x-php", "text/html", ""])
def test_29_another_content_type_is_415(kind: str, as_manager: APIClient) -> None:
    response = sent(as_manager, b"x", kind or "x")
    assert (response.status_code, response["Content-Type"]) == (415, PROBLEM)


NAMES = [
    "../../x.csv",
    "..\\..\\x.csv",
    "/etc/passwd.csv",
    "x" * 400 + ".csv",
    "a\r\nSet-Cookie: x=1.csv",
    "a\x00b.csv",
    "<script>alert(1)</script>.csv",
    "\N{RIGHT-TO-LEFT OVERRIDE}vsc.csv",
    "con.csv",
]


@pytest.mark.parametrize("name", NAMES)
def test_30_the_name_of_a_file_is_words_alone(name: str, as_manager: APIClient) -> None:
    upload = SimpleUploadedFile("x.csv", b"stock_number\nSPR-1\n", content_type=CSV)
    upload._name = name
    response = as_manager.post(ADDRESS, {"file": upload}, format="multipart")
    assert response.status_code in (202, 400)
    assert "Set-Cookie" not in response.headers
    if response.status_code == 202:
        shown = as_manager.get(response["Location"]).json()["file_name"]
        assert len(shown) <= 200
        assert shown.isprintable()
        assert "/" not in shown


def test_30_no_file_is_kept_on_the_disk(settings: Any) -> None:
    assert not settings.MEDIA_ROOT
