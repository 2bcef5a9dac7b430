import io

import openpyxl
import pytest

from api.exchange.kind_proposals import every_table, proposed_kind
from api.exchange.source_sheets import sheet_of_kind
from api.exchange.tables import KINDS
from api.exchange.templates import csv_template, examples_of, template_columns, workbook_template
from api.exchange.together import KindSheet, import_together
from api.wording.file_columns import COLUMNS
from api.wording.sentences import sentence
from tests.api.exchange.files import read_file


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_has_its_meaning_and_every_kind_an_example(kind: str) -> None:
    columns = template_columns(kind)

    assert [one.name for one in columns if not one.meaning] == []
    assert all(row.keys() <= {one.name for one in columns} for row in examples_of(kind))
    assert [one.name for one in columns if one.required and not one.example] == []


def test_no_meaning_is_left_of_a_column_that_is_gone() -> None:
    known = {column.name for table in every_table().values() for column in table.every_column}

    assert [key for key in COLUMNS if key.split(".")[-1] not in known] == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_template_is_known_again(kind: str) -> None:
    assert proposed_kind(f"{kind}.csv", ()) == kind
    assert proposed_kind("sheet1", [one.name for one in template_columns(kind)]) == kind


@pytest.mark.parametrize(
    ("name", "headings", "kind"),
    [
        ("Ersatzteile 2026.xlsx", ["Nr", "Text"], "items"),
        ("Stock.csv", ["item", "storeroom", "quantity"], "opening-balances"),
        ("export_17", ["tag", "drive", "role", "teeth"], "positions"),
        ("Holidays", ["name", "from", "to"], ""),
    ],
)
def test_a_kind_is_proposed_from_name_and_headings(name: str, headings: list[str], kind: str) -> None:
    assert proposed_kind(name, headings) == kind


@pytest.mark.django_db
def test_the_examples_are_a_plant_that_can_be_loaded_in_one_go() -> None:
    sheets = [
        KindSheet(kind, read_file(io.BytesIO(csv_template(kind).encode()), name=f"{kind}.csv", kind=kind))
        for kind in KINDS
    ]

    results = import_together(sheets, dry_run=False, by="ines", author="ines")

    wrong = {
        result.kind: [sentence(error.fact) for row in result.row_results for error in row.errors]
        + [sentence(problem) for problem in result.problems]
        for result in results
    }
    assert {kind: texts for kind, texts in wrong.items() if texts} == {}
    assert all(result.written for result in results)


def test_the_workbook_explains_its_sheets_and_its_example_rows_are_left_out() -> None:
    content = workbook_template(["storerooms", "items"])

    book = openpyxl.load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["Meaning", "storerooms", "items"]
    row = next(row for row in book["Meaning"].iter_rows(values_only=True) if row[1] == "pick_minutes")
    assert row == (
        "storerooms",
        "pick_minutes",
        None,
        "From the request until the part is on the counter.",
        "min",
        "whole number",
        "10",
    )
    book["items"].append(["42-0110", "Sprocket 08B-1 17T"])
    changed = io.BytesIO()
    book.save(changed)
    sheet = sheet_of_kind(changed, name="plant.xlsx", kind="items", sheet="items")
    assert [row.line for row in sheet.rows] == [3]
    assert [note.code for note in sheet.notes] == ["examples_left_out"]
