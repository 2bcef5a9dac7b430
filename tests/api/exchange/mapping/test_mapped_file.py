import io
from typing import Any

import openpyxl
import pytest

from api.exchange.mapping.mapped_file import MappedFile, Remembered, map_file
from api.exchange.refusals import FileRefused
from api.wording.sentences import sentence

VIENNA = Remembered("list", timezone="Europe/Vienna")


def mapped(text: str, kind: str = "items", **answers: str) -> MappedFile:
    given = {key.replace("__", ":", 1): answer for key, answer in answers.items()}
    return map_file(io.BytesIO(text.encode()), kind=kind, remembered=VIENNA.with_answers(given))


def rows(found: MappedFile) -> list[dict[str, Any]]:
    return [found.sheet.named(row) for row in found.sheet.rows]


def column(
    name: str, heading: str, cells: str, kind: str = "items", unit: str = "", **answers: str
) -> list[Any]:
    """The cells of one column, beside a stock number."""
    lines = "\n".join(f"K-{n};{cell}" for n, cell in enumerate(cells.split("|")))
    return [row.get(name) for row in rows(mapped(f"Artikel-Nr.;{heading}\n{lines}\n", kind, **answers))]


# Day 45962 is 1 November 2025: ECMA-376 part 1, 18.17.4.1 (1900 date system).
@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ("01.11.2026 08:00|31.10.2026", ["2026-11-01T08:00:00+01:00", "2026-10-31T00:00:00+01:00"]),
        ("11/01/2026|10/31/2026 24:00", ["2026-11-01T00:00:00+01:00", "2026-11-01T00:00:00+01:00"]),
        ("2026-07-01 6:05", ["2026-07-01T06:05:00+02:00"]),
        ("45962,25", ["2025-11-01T06:00:00+01:00"]),
        (
            "1. Nov. 2026|Mo 02.11.26 6.05 pm|-",
            ["2026-11-01T00:00:00+01:00", "2026-11-02T18:05:00+01:00", None],
        ),
        ("1793520000000|2026-11-01T08:00:00Z", ["2026-11-01T08:00:00+00:00"] * 2),
    ],
)
def test_moments_are_read_by_the_clock_of_the_source(cells: str, found: list[str]) -> None:
    text = "Beleg;Artikel;Lager;Art;Menge;Datum\n" + "".join(
        f"B-{n};K-1;MAIN;Zugang;1;{cell}\n" for n, cell in enumerate(cells.split("|"))
    )
    read = [row["occurred_at"] for row in rows(mapped(text, "movements"))]
    assert read == found


@pytest.mark.parametrize(
    ("name", "heading", "cells", "found"),
    [
        ("bore_mm", "Bohrung", '35 mm|1-7/16"|25,5', ["35 mm", "1-7/16 in", "25.5 mm"]),
        ("bore_mm", "Bore (in)", "1.4375|1 7/16", ["1.4375 in", "1 7/16 in"]),
        ("bore_mm", "Bore", "1.4375|0.75", ["1.4375 in", "0.75 in"]),
        ("chain", "Kette", "12A-1|ANSI 60-2|Rollenkette 08 B-1", ["12A", "60", "08B"]),
        ("strands", "Kette", "12A-1|ANSI 60-2|-", ["1", "2", None]),
        ("keyway_width_mm", "Nut", "12x8|10 x 3,3", ["12 mm", "10 mm"]),
        ("keyway_depth_mm", "Nut", "12x8|10 x 3,3", [None, "3.3 mm"]),
        ("bore_mm", "Buchse", "2012-35|TB 1610", ["35 mm", None]),
        ("bush_size", "Buchse", "2012-35|TB 1610", ["2012", "1610"]),
        ("teeth", "Zähne", "19Z|Z=21|23 T|25", ["19", "21", "23", "25"]),
        ("kind", "Art", "KETTENRAD|Sprocket|Buchse|n/a", ["sprocket", "sprocket", "bush", None]),
        ("hardened_teeth", "gehärtet", "Ja|x|Nein|NO|k.A.", ["yes", "yes", "no", "no", None]),
        ("unit_cost", "Preis €", "1.250,00|12,50 €", ["1250", "12.5"]),
        ("unit_cost", "Price", "1,250.00|12.50", ["1250", "12.5"]),
        ("lead_time_days", "WBZ (Wochen)", "2|6", ["14", "42"]),
        ("mass_kg", "Weight lb", "10", ["4.536"]),
        ("material", "Werkstoff", "Edelstahl|GG", ["stainless_steel", "cast_iron"]),
    ],
)
def test_cells_are_read_as_people_write_them(name: str, heading: str, cells: str, found: list[str]) -> None:
    assert column(name, heading, cells) == found


def test_hours_and_days_of_the_week_are_read() -> None:
    text = "Lager;Tag;von;bis\nMAIN;Mon;6:00;24:00\nMAIN;Dienstag;0600;14.30\nMAIN;mi;6 am;6 pm\n"
    found = [(row["weekday"], row["opens"], row["closes"]) for row in rows(mapped(text, "opening-hours"))]
    assert found == [("0", "06:00", "00:00"), ("1", "06:00", "14:30"), ("2", "06:00", "18:00")]


def test_one_cell_settles_the_order_of_day_and_month_and_nothing_is_asked() -> None:
    text = "Artikel;Lager;Art;Beleg;Datum\nK-1;MAIN;count;1;03/04/2026\nK-1;MAIN;count;2;25/04/2026\n"
    assert not mapped(text, "movements").questions


def test_two_readings_of_a_column_are_asked_about_once_with_three_examples() -> None:
    lines = "".join(f"K-1;MAIN;count;{day};0{day}/04/2026\n" for day in range(1, 9))
    found = mapped("Item;Store;Type;Ref;Date\n" + lines, "movements")
    (question,) = found.questions
    assert question.key == "reading:Date"
    assert [option.value for option in question.options] == ["dmy", "mdy"]
    assert len(question.examples) == 3
    with pytest.raises(FileRefused):
        found.sheet  # noqa: B018
    settled = mapped("Item;Store;Type;Ref;Date\n" + lines, "movements", reading__Date="mdy")
    assert rows(settled)[1]["occurred_at"].startswith("2026-02-04")


@pytest.mark.parametrize(
    ("heading", "cells", "keys", "options"),
    [
        ("Preis", "1.250|2.500", ["reading:Preis"], ["point", "comma"]),
        ("Pitch", "9.525|12.7", ["reading:Pitch"], ["point mm", "point in"]),
        ("Art", "Kettenrad|Sonderteil", ["word:kind:Sonderteil"], None),
        ("Item no", "1|2", ["heading:Artikel-Nr.", "heading:Item no"], None),
    ],
)
def test_what_could_mean_two_things_is_asked(
    heading: str, cells: str, keys: list[str], options: list[str] | None
) -> None:
    lines = "\n".join(f"K-{n};{cell}" for n, cell in enumerate(cells.split("|")))
    found = mapped(f"Artikel-Nr.;{heading}\n{lines}\n").questions
    assert set(keys) >= {one.key for one in found}
    assert found
    assert options is None or [option.value for option in found[0].options] == options


def test_a_chain_that_says_no_strands_is_asked_about_once() -> None:
    cells = "60-2|60|80|-"
    text = "Artikel-Nr.;Kette\n" + "".join(f"K-{n};{cell}\n" for n, cell in enumerate(cells.split("|")))
    (question,) = mapped(text).questions
    assert (question.key, question.examples) == ("missing:strands", ("60", "80"))
    assert column("strands", "Kette", cells, missing__strands="1") == ["2", "1", "1", None]
    assert column("strands", "Kette", cells, missing__strands="") == ["2", None, None, None]


def test_numbers_of_a_spreadsheet_in_a_column_of_codes_are_asked_about() -> None:
    found = map_file(io.BytesIO(workbook([["Stock No", "Teeth"], [4711, 19], [4712, 21]])), kind="items")
    assert [one.key for one in found.questions] == ["reading:Stock No"]


def test_titles_units_totals_and_empty_columns_are_no_records() -> None:
    sheet = [
        ["Ersatzteile Halle 2", None, None, None],
        [None],
        ["Artikel-Nr.", None, "Bohrung", "Zähne"],
        [None, None, "[in]", None],
        ["Kettenräder"],
        ["K-1", None, 1.5, 19],
        ["Artikel-Nr.", None, "Bohrung", "Zähne"],
        ["K-2", None, 2, 21],
        ["Summe", None, None, 40],
    ]
    found = map_file(io.BytesIO(workbook(sheet)), kind="items")
    assert [(row["stock_number"], row["bore_mm"]) for row in rows(found)] == [
        ("K-1", "1.5 in"),
        ("K-2", "2 in"),
    ]
    left_out = {note.code for note in found.table.notes}
    assert left_out == {
        "rows_above_headings",
        "titles_left_out",
        "repeated_headings_left_out",
        "totals_left_out",
    }
    assert all(sentence(note) for note in found.table.notes)


def test_a_time_that_the_clocks_show_twice_is_refused_with_its_line() -> None:
    text = "Beleg;Artikel;Lager;Art;Datum\n1;K-1;MAIN;Inventur;25.10.2026 02:30\n"
    (row,) = mapped(text, "movements").sheet.rows
    assert row.problem
    assert (row.line, row.problem.code) == (2, "local_time_not_clear")


def test_a_column_that_no_heading_gives_is_made_from_other_cells() -> None:
    found = mapped(
        "Anlage;Bereich\nM-1;Darre\n",
        "areas",
        missing__plant="HOP",
        missing__code="{Bereich}",
        missing__name="{Bereich} {Anlage}",
    )
    assert rows(found) == [{"plant": "HOP", "code": "Darre", "name": "Darre M-1"}]


def workbook(lines: list[list[Any]]) -> bytes:
    book = openpyxl.Workbook()
    for line in lines:
        book.worksheets[0].append(line)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_power_speed_lifting_and_stop_are_read_by_what_people_write_above_them() -> None:
    text = "Antrieb;Maschine;Kette;kW;U/min;Heben?;Stillstand EUR/h\nKT-1;M-1;12B-1;5,5;120;Ja;400\nKT-2;M-1;12B-1;2,2;75;Nein;250\n"
    found = mapped(text, "drives")
    assert found.questions == ()
    [first, second] = rows(found)
    assert [first[name] for name in ("power_kw", "driver_speed_rpm", "downtime_cost_per_hour")] == [
        "5.5",
        "120",
        "400",
    ]
    assert (first["lifting"], second["lifting"]) == ("yes", "no")
    assert "headings_left_out" not in [note.code for note in found.notes]


@pytest.mark.parametrize(
    ("heading", "column_read"),
    [
        *(
            (money, "downtime_cost_per_hour")
            for money in ("Stillstand EUR/h", "Stillstand €/h", "Downtime cost")
        ),
        *((hours, "") for hours in ("Stillstand", "Stillstand (h)", "Ausfall h", "Downtime", "Downtime (h)")),
    ],
)
def test_hours_of_a_stop_are_not_taken_for_its_cost(heading: str, column_read: str) -> None:
    found = mapped(f"Antrieb;Maschine;Kette;{heading}\nKT-1;M-1;12B-1;4\n", "drives")
    assert next(one.column for one in found.proposals if one.heading == heading) == column_read


@pytest.mark.django_db
def test_a_position_is_made_from_its_drive_and_what_the_list_calls_the_side() -> None:
    text = "Antrieb;Seite;Artikel;eingebaut\nKT-1;treibend;K-1;03.05.2024\nKT-1;Abtrieb;K-1;04.05.2024\n"
    [question] = mapped(text, "installations").questions
    made = question.options[0]
    assert made.value == "{Antrieb}-{@side Seite}"
    assert made.label is not None
    assert made.label.values["example"] == "KT-1-DRIVER, KT-1-DRIVEN"
    found = rows(mapped(text, "installations", missing__position=made.value))
    assert [row["position"] for row in found] == ["KT-1-DRIVER", "KT-1-DRIVEN"]


@pytest.mark.parametrize(
    ("written", "word"), [("GG25", "cast_iron"), ("GJL-250", "cast_iron"), ("C45E", "carbon_steel")]
)
def test_materials_are_read_by_their_short_names(written: str, word: str) -> None:
    assert column("material", "Werkstoff", written) == [word]
