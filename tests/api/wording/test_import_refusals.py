from typing import Any

import pytest

from api.wording.sentences import sentence
from inventory.facts import fact

SENTENCES: list[tuple[str, dict[str, Any], str]] = [
    ("cell_empty", {"column": "code"}, "code is empty: it must be given."),
    ("cell_not_number", {"cell": "two"}, "'two' is not a number: use the digits 0 to 9 and a decimal point."),
    (
        "number_out_of_range",
        {"cell": "100000", "least": -1000.0, "greatest": 99999.999999},
        "'100000' must be from -1000 to 99999.999999.",
    ),
    (
        "length_perhaps_in_inches",
        {"dimension": "bore", "number": 1.9375, "inches_in_mm": 49.2125},
        "1.9375 mm bore: inches? Write '1.9375 in' (49.2125 mm), or '1.9375 mm' if it is meant so.",
    ),
    (
        "word_not_in_list",
        {"cell": "washdwn", "allowed": "food, washdown", "suggestion": "washdown"},
        "'washdwn' must be one of food, washdown. Did you mean \"washdown\"?",
    ),
    (
        "word_not_in_list",
        {"cell": "x", "allowed": "each, link", "suggestion": None},
        "'x' must be one of each, link.",
    ),
    (
        "record_to_refer_to_missing",
        {"kind": "bin", "name": "A-01", "place": "MAIN", "suggestion": "A-02"},
        "There is no bin 'A-01' in 'MAIN': import or correct it first. Did you mean \"A-02\"?",
    ),
    (
        "record_to_refer_to_missing",
        {"kind": "storeroom", "name": "GONE", "place": None, "suggestion": None},
        "There is no storeroom 'GONE': import or correct it first.",
    ),
    (
        "two_rows_of_one_key",
        {"first_line": 2, "line": 4, "key": "heavy_mass_kg", "differs": "value"},
        "Lines 2 and 4 both say heavy_mass_kg, with different value: keep one of them.",
    ),
    ("file_has_too_many_rows", {"most": 200_000}, "The file has more than 200000 rows: send it in parts."),
    (
        "rows_not_listed",
        {"count": 990_000, "listed": 10_000},
        "10000 rows are listed, 990000 more are counted only.",
    ),
    (
        "more_rows_refused",
        {"count": 3, "column": "teeth", "reason": "cell_not_number"},
        "3 more errors of the kind cell_not_number stand in the column 'teeth' of rows that are not listed.",
    ),
    (
        "more_whole_rows_refused",
        {"count": 2, "column": "", "reason": "row_not_json"},
        "2 more rows are rejected with row_not_json and not listed.",
    ),
    ("line_too_long", {"most": 4_000_000}, "A line of the file has more than 4000000 characters"),
    ("sheet_chosen", {"sheet": "bins", "sheets": 2}, "Read the sheet 'bins' of 2."),
    ("read_as_windows_1252", {"line": 2}, "Read as Windows-1252 (Latin-1), because line 2 is not UTF-8"),
    ("message_not_valid", {"rule": "required", "text": "Give it."}, "Give it."),
]


@pytest.mark.parametrize(("code", "values", "words"), SENTENCES)
def test_the_sentence_says_what_is_wrong_and_what_to_do(code: str, values: Any, words: str) -> None:
    assert words in sentence(fact(code, **values))
