import re
from decimal import Decimal
from time import process_time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.edge.csv_writing import as_written, cell, csv_text, neutralised
from api.exchange.tables import TABLES
from api.wire.cells import Text
from inventory.models import Item
from tests.api.exchange.exported_files import exported
from tests.api.exchange.files import PLANT, load, load_up_to

RECORDS = list(PLANT)[: list(PLANT).index("movements")]


@pytest.mark.django_db
@pytest.mark.parametrize("kind", RECORDS)
def test_what_is_exported_comes_in_again_as_unchanged(kind: str) -> None:
    load_up_to("items")
    table = TABLES[kind]

    result = load(kind, "".join(exported(table, table.model._default_manager.all())))

    assert result.is_accepted, (result.problems, result.row_results)
    assert (result.counts["created"], result.counts["updated"]) == (0, 0)
    assert result.counts["unchanged"] == len(PLANT[kind].splitlines()) - 1


@pytest.mark.django_db
def test_a_length_that_would_raise_a_question_says_its_unit() -> None:
    load("items", "stock_number,kind,bore_mm\nX1,bush,2 mm\n")

    text = "".join(exported(TABLES["items"], Item.objects.all()))

    assert ",2 mm," in text
    assert load("items", text).counts["unchanged"] == 1


@pytest.mark.parametrize("text", ["=1+1", "+49 951", "-A", "@x", "\tx", "'=x", "＝1"])
def test_text_that_begins_like_a_formula_is_neutralised_and_comes_back(text: str) -> None:
    assert neutralised(text) == f"'{text}"
    assert Text()(neutralised(text).replace("\r", "")) == text


def test_numbers_stay_numbers() -> None:
    assert [cell(value) for value in (-5, Decimal("-1.50"), Decimal("100"), True, None)] == [
        "-5",
        "-1.5",
        "100",
        "true",
        "",
    ]


def test_lines_are_made_one_at_a_time() -> None:
    def rows() -> Any:
        yield ["=A", 1]
        raise AssertionError("asked for too early")

    lines = csv_text(["name", "value"], rows())

    assert [next(lines), next(lines)] == ["name,value\r\n", "'=A,1\r\n"]


SPLIT = re.compile("[;\t|\n\r]")


@given(st.text(alphabet="'=+-@ab1 \"|;\t\n\r\u200b\u00a0\ufeff", max_size=12))
def test_no_cell_begins_with_a_sign_and_no_character_is_lost(text: str) -> None:
    """Whatever the reader takes for a separator, and drops of what is not seen."""
    written = neutralised(text)
    assert as_written(written) == text
    cells = [part.lstrip(' "\u200b\u00a0\ufeff') for part in SPLIT.split(written)]
    assert not [part for part in cells if part.startswith(("=", "+", "-", "@"))]


@pytest.mark.parametrize("text", ["'" * 20_000, "\t" * 20_000, ";'" * 10_000, " " * 20_000 + "x"])
def test_no_text_takes_long_to_neutralise(text: str) -> None:
    began = process_time()
    assert as_written(neutralised(text)) == text
    assert process_time() - began < 1
