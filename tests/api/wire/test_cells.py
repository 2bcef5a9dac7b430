from contextlib import suppress
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.edge.lengths import PLAUSIBLE
from api.wire import cells
from api.wire.cells import Cell, CellRefused, Formula
from api.wording.sentences import sentence
from inventory.facts import fact
from inventory.standards.sizes import inch_text

NUMBER = cells.Number(3, Decimal(-1000), Decimal("99999.999"))
WHOLE = cells.Whole(0, 32_767)
BORE = cells.LengthMm(6, Decimal(0), Decimal("99999.999999"), PLAUSIBLE["bore_mm"])
CODE = cells.Code(40)
DESIGNATION = cells.Designation(12)
TEXT = cells.Text(40)
NOTE = cells.Text(400, lines=True)
ENVIRONMENT = cells.Words(("food", "washdown", "hot"))

READ: list[tuple[Any, Cell, Any]] = [
    (NUMBER, "7.5", Decimal("7.5")),
    (NUMBER, " -2 ", Decimal(-2)),
    (NUMBER, "-0", Decimal(0)),
    (NUMBER, "7,5", Decimal("7.5")),
    (NUMBER, "0,125", Decimal("0.125")),
    (NUMBER, "1.500", Decimal("1.5")),
    (NUMBER, 3, Decimal(3)),
    (WHOLE, "17", 17),
    (WHOLE, "17.0", 17),
    (BORE, "25", Decimal(25)),
    (BORE, "2 mm", Decimal(2)),
    (BORE, "1 15/16 in", Decimal("49.2125")),
    (BORE, '1-15/16"', Decimal("49.2125")),
    (BORE, "3/4", Decimal("19.05")),
    (BORE, "1.9375 in", Decimal("49.2125")),
    (BORE, "63/64 in", Decimal("25.003125")),
    (CODE, "004711", "004711"),
    (CODE, " KILN-4 ", "KILN-4"),
    (CODE, "=CMD", "=CMD"),
    (CODE, "'=CMD", "=CMD"),
    (DESIGNATION, 1610, "1610"),
    (DESIGNATION, "08B-1", "08B-1"),
    (TEXT, "Kettenrad für Darre 2 🙂", "Kettenrad für Darre 2 🙂"),
    (TEXT, "+49 951 0000", "+49 951 0000"),
    (TEXT, "  two  spaces ", "  two  spaces "),
    (NOTE, "one\ntwo", "one\ntwo"),
    (ENVIRONMENT, "food; washdown;food", ["food", "washdown"]),
    (ENVIRONMENT, ["hot"], ["hot"]),
    (cells.boolean, "Yes", True),
    (cells.boolean, "false", False),
    (cells.boolean, True, True),
    (cells.moment, "2026-03-01T06:30:00+01:00", datetime(2026, 3, 1, 5, 30, tzinfo=UTC)),
    (cells.moment, "2024-02-29t23:59:59.5z", datetime(2024, 2, 29, 23, 59, 59, 500_000, tzinfo=UTC)),
    (cells.day, "2024-02-29", date(2024, 2, 29)),
    (cells.day, datetime(2024, 2, 29), date(2024, 2, 29)),
    (cells.hour, "06:30", time(6, 30)),
    (cells.hour, time(6, 30), time(6, 30)),
    (cells.timezone, "Europe/Vienna", "Europe/Vienna"),
    (cells.currency, "EUR", "EUR"),
]

REFUSED: list[tuple[Any, Cell, str]] = [
    (NUMBER, "1_000", "is not a number"),
    (NUMBER, "１７", "is not a number"),
    (NUMBER, "1,500", "may be 1.500 or 1500"),
    (NUMBER, "1,234.5", "thousands separators"),
    (NUMBER, "1'234", "thousands separators"),
    (NUMBER, "1e3", "write the number out"),
    (NUMBER, "NaN", "is not a number"),
    (NUMBER, "Infinity", "is not a number"),
    (NUMBER, "0x10", "is not a number"),
    (NUMBER, "9" * 25, "far outside the range"),
    (NUMBER, "9" * 4000, "it has 4000 characters"),
    (NUMBER, Decimal("1e400"), "far outside the range"),
    (NUMBER, Decimal("1e-300"), "far outside the range"),
    (NUMBER, "1.23456", "more than 3 decimals"),
    (NUMBER, "100000", "must be from"),
    (NUMBER, True, "is not a number"),
    (NUMBER, "=1+1", "is not a number"),
    (NUMBER, Formula("=B2*25.4"), "paste its value"),
    (WHOLE, "1.5", "whole number"),
    (WHOLE, "40000", "from 0 to 32767"),
    (WHOLE, "-1", "from 0 to 32767"),
    (BORE, "2.0", "2 mm bore: inches? Write '2 in' (50.8 mm), or '2 mm' if it is meant so."),
    (BORE, "1.9375", "inches? Write '1.9375 in' (49.2125 mm)"),
    (BORE, "1 15", "is not a number"),
    (BORE, "1 15/17", "not one clear size"),
    (BORE, "17/16", "not one clear size"),
    (BORE, "1/128 in", "not one clear size"),
    (BORE, "2500", "another unit?"),
    (BORE, "-25", "must be from 0"),
    (BORE, datetime(2026, 1, 2), "is not a number"),
    (CODE, 4711, "lose their leading zeros"),
    (CODE, datetime(2026, 1, 2), "turned into a date"),
    (CODE, "02-Jan", "turned into a date"),
    (CODE, "Jan-26", "turned into a date"),
    (CODE, "2026-01-02", "turned into a date"),
    (CODE, "1.2E+07", "turned into a number"),
    (CODE, "KILN\u200b4", "invisible character"),
    (CODE, "x" * 41, "41 characters, at most 40"),
    (TEXT, "a\x00b", "control character U+0000"),
    (TEXT, "a\nb", "control character U+000A"),
    (TEXT, "\ud800", "control character U+D800"),
    (TEXT, "x" * 10_000, "10000 characters"),
    (cells.Code(20, words_only=True), "KILN 4", "letters, digits"),
    (cells.Word(("each", "link")), "Each", "must be one of each, link"),
    (ENVIRONMENT, "food;washdwn", 'Did you mean "washdown"?'),
    (cells.boolean, "1", "true or false"),
    (cells.boolean, "ja", "true or false"),
    (cells.moment, "2026-03-01T06:30:00", "with an offset"),
    (cells.moment, "2026-02-30T06:30:00Z", "of the calendar"),
    (cells.moment, "2026-W09-1T06:30:00Z", "with an offset"),
    (cells.moment, "0026-03-01T06:30:00Z", "years 1900 to 2200"),
    (cells.moment, datetime(2026, 3, 1, 6, 30), "no offset from UTC"),
    (cells.day, "2023-02-29", "not a day in the calendar"),
    (cells.day, "01/03/2026", "year-month-day"),
    (cells.hour, "6:30", "time of the day"),
    (cells.hour, "25:00", "time of the day"),
    (cells.timezone, "Europe/Nowhere", "not a time zone"),
    (cells.timezone, "../etc/passwd", "not a time zone"),
    (cells.currency, "euro", "three capital letters"),
]


@pytest.mark.parametrize(("parse", "cell", "value"), READ)
def test_it_reads(parse: Any, cell: Cell, value: Any) -> None:
    found = parse(cell)

    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(("parse", "cell", "words"), REFUSED)
def test_it_refuses_with_a_sentence(parse: Any, cell: Cell, words: str) -> None:
    with pytest.raises(CellRefused) as refusal:
        parse(cell)

    text = sentence(refusal.value.fact)
    assert words in text
    assert len(text) < 300


def test_a_file_of_decimal_commas_reads_three_decimals_as_decimals() -> None:
    assert NUMBER(cells.with_point("12,700")) == Decimal("12.7")


def test_a_file_of_decimal_commas_asks_where_a_point_could_part_thousands() -> None:
    with pytest.raises(CellRefused) as refusal:
        cells.with_point("12.700")

    either = {"cell": "12.700", "first": "12,700", "second": "12700"}
    assert refusal.value.fact == fact("number_ambiguous_beside_commas", **either)


@given(st.integers(min_value=16, max_value=64 * 20))
def test_every_sixty_fourth_of_an_inch_comes_back_exact(parts: int) -> None:
    size_mm = Decimal(parts) * Decimal("25.4") / 64

    assert BORE(inch_text(size_mm)) == size_mm
    assert BORE(f"{size_mm:f} mm") == size_mm


@given(st.decimals(min_value=6, max_value=600, places=6))
def test_every_stored_length_reads_back_as_itself(length_mm: Decimal) -> None:
    assert BORE(format(length_mm, "f")) == length_mm


@given(st.decimals(min_value=Decimal("0.01"), max_value=Decimal("5.99"), places=2))
def test_no_bare_small_bore_is_stored_silently(size: Decimal) -> None:
    with pytest.raises(CellRefused, match="length_perhaps_in_inches"):
        BORE(format(size, "f"))


@given(st.text(max_size=80) | st.integers() | st.booleans() | st.none() | st.decimals())
def test_a_cell_is_read_or_refused_and_never_breaks(cell: Cell) -> None:
    parsers = [
        NUMBER,
        WHOLE,
        BORE,
        CODE,
        DESIGNATION,
        TEXT,
        ENVIRONMENT,
        cells.boolean,
        cells.moment,
        cells.day,
    ]
    parsers += [cells.hour, cells.timezone, cells.currency]
    for parse in parsers:
        with suppress(CellRefused):
            parse(cell)


@given(st.datetimes(min_value=datetime(1950, 1, 1), max_value=datetime(2100, 1, 1), timezones=st.just(UTC)))
def test_every_moment_reads_back_as_itself(moment: datetime) -> None:
    assert cells.moment(moment.isoformat()) == moment


@pytest.mark.parametrize("code", ["3102-50-26", "1610-25-08", "2012-38-10", "12/45/2012", "10/12/1610"])
def test_a_number_that_is_no_day_of_our_time_is_a_code(code: str) -> None:
    assert cells.Designation(30)(code) == code


@pytest.mark.parametrize("cell", ["2012-10-12", "2026-01-02 00:00:00", "10/12/2012", "1.12.1998", "02-Jan"])
def test_a_code_that_was_turned_into_a_day_is_refused(cell: str) -> None:
    with pytest.raises(cells.CellRefused):
        cells.Designation(30)(cell)
