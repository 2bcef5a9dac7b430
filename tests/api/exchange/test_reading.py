import io
import zipfile
from datetime import datetime
from decimal import Decimal
from typing import Any

import openpyxl
import pytest

from api.edge.body_limits import MAX_FILE_BYTES
from api.exchange.files import read_file
from api.exchange.reading import Sheet
from api.exchange.refusals import FileRefused
from api.wire.cells import Formula
from api.wording.sentences import sentence, sentences
from inventory.facts import fact

BINS = "storeroom,code\nMALT,A-01\nMALT,A-02\n"


def read(content: bytes | str, name: str = "bins.csv", kind: str = "bins") -> Sheet:
    encoded = content.encode() if isinstance(content, str) else content
    return read_file(io.BytesIO(encoded), name=name, kind=kind)


def rows(sheet: Sheet) -> list[dict[str, Any]]:
    return [sheet.named(row) for row in sheet.rows]


def refusal(content: bytes | str, name: str = "bins.csv") -> str:
    with pytest.raises(FileRefused) as refused:
        list(read(content, name).rows)
    return sentences(refused.value.facts)


def workbook(rows: list[list[Any]], *, title: str = "bins", first: str = "") -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    if first:
        sheet.title = first
        sheet = book.create_sheet(title)
    sheet.title = title
    for row in rows:
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def archive(members: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, content in members.items():
            zipped.writestr(name, content)
    return stream.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        BINS.encode(),
        BINS.encode("utf-8-sig"),
        BINS.encode("utf-16"),
        b"\xfe\xff" + BINS.encode("utf-16-be"),
        BINS.replace(",", ";").encode(),
        BINS.replace(",", "\t").encode(),
        BINS.replace("\n", "\r\n").encode(),
        BINS.rstrip().encode(),
        BINS.replace("\nMALT,A-02", "\n\n,\n\nMALT,A-02,,").encode(),
    ],
)
def test_it_reads_whatever_a_spreadsheet_saves(content: bytes) -> None:
    sheet = read(content)

    assert sheet.columns == ("storeroom", "code")
    assert rows(sheet) == [
        {"storeroom": "MALT", "code": "A-01"},
        {"storeroom": "MALT", "code": "A-02"},
    ]


def test_it_counts_lines_as_an_editor_does() -> None:
    sheet = read('code,name\nA,"two\nlines"\nB,x\n')

    assert [(row.line, row.cells[1]) for row in sheet.rows] == [(2, "two\nlines"), (4, "x")]


def test_it_reads_windows_1252_and_says_so() -> None:
    sheet = read("code,name\nA,Kettenrad für Darre\n".encode("cp1252"))

    assert rows(sheet)[0]["name"] == "Kettenrad für Darre"
    assert "Windows-1252" in sentence(sheet.notes[0])
    assert sheet.notes == (fact("read_as_windows_1252", line=2),)


def test_it_knows_a_file_of_decimal_commas() -> None:
    assert read("code;pitch_mm\nA;12,7\n").decimal_commas
    assert not read("code;pitch_mm\nA;12.7\n").decimal_commas
    assert not read('code,pitch_mm\nA,"12,7"\n').decimal_commas


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "The file is empty"),
        (b"storeroom,code\n", "has no rows"),
        (b"storeroom,code\nMALT,A\0B\n", "NUL bytes"),
        (BINS.encode("utf-16-le"), "NUL bytes"),
        (b"\xff\xfe" + BINS.encode("utf-16-le")[:-1], "breaks off or is damaged"),
        ("code,name\nA,Käse\n".encode() + "B,Käse\n".encode("cp1252"), "neither UTF-8 nor Windows-1252"),
        (b"code,name\nA,\x81\x8d\n", "neither UTF-8 nor Windows-1252"),
        (b"code,name,code\nA,B,C\n", "'code' is named 2 times"),
        (b"code,,name\nA,B,C\n", "Column 2 has no name"),
        (b'code,name\nA,"cut', "line 2 is damaged or cut off"),
        (b"code,name,site\nA,B,C\nD,E", "breaks off in line 3"),
        (b"a,b;c\n1,2;3\n", "two ways"),
        (b",".join(b"c%d" % n for n in range(300)) + b"\n", "300 columns, at most 200"),
        (b"x," * 1_000_000 + b"\n1\n", "The first line has 2000000 characters"),
        (b"\xd0\xcf\x11\xe0old", "save it as .xlsx"),
        (b"PK\x03\x04", "archive or a workbook"),
    ],
)
def test_it_refuses_a_file_as_a_whole(content: bytes, words: str) -> None:
    assert words in refusal(content)


def test_it_refuses_text_that_is_called_a_workbook() -> None:
    assert "is no workbook" in refusal(BINS, "bins.xlsx")


def test_it_refuses_a_file_beyond_the_size() -> None:
    assert "send it in parts" in refusal(b"x" * (MAX_FILE_BYTES + 1))


def test_it_names_the_row_with_too_many_cells() -> None:
    sheet = read("storeroom,code\nMALT,A,B\nMALT,A-02\n")

    assert [row.problem for row in sheet.rows] == [fact("row_has_other_cell_count", cells=3, columns=2), None]


def test_it_reads_a_workbook_with_its_types() -> None:
    content = workbook(
        [
            ["code", "value", "when", "flag", "sum"],
            ["007", 7.9375, datetime(2026, 1, 2), True, "=1+1"],
            [None],
            ["8", 3, None, None, 0.1 + 0.2],
        ]
    )

    first, second = read(content, "bins.xlsx").rows

    assert first.line == 2
    assert list(first.cells) == [
        "007",
        read_number("7.9375"),
        datetime(2026, 1, 2),
        True,
        Formula("=1+1"),
    ]
    assert second.line == 4
    assert second.cells[-1] == read_number("0.3")


def read_number(text: str) -> Any:
    return Decimal(text)


def test_it_gives_back_leading_zeros_that_the_format_of_the_cell_shows() -> None:
    book = openpyxl.Workbook()
    book.active.append(["code"])
    book.active.append([4711])
    book.active["A2"].number_format = "000000"
    stream = io.BytesIO()
    book.save(stream)

    assert rows(read(stream.getvalue(), "codes.xlsx")) == [{"code": "004711"}]


def test_it_reads_the_sheet_named_after_the_kind() -> None:
    sheet = read(workbook([["storeroom", "code"], ["MALT", "A"]], first="Cover"), "bins.xlsx")

    assert rows(sheet)[0]["code"] == "A"
    assert sheet.notes == (fact("sheet_chosen", sheet="bins", sheets=2),)


@pytest.mark.parametrize(
    ("members", "sentence"),
    [
        ({"word/document.xml": b"<a/>"}, "no .xlsx workbook"),
        (
            {"xl/workbook.xml": b"<a/>", "xl/worksheets/sheet1.xml": b" " * 50_000_000},
            "expands more than 100 times",
        ),
        ({"xl/workbook.xml": b"<a/>", **{f"x{n}": b"" for n in range(600)}}, "601 parts, at most 500"),
        ({"xl/workbook.xml": b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'}, "declares entities"),
        ({"xl/workbook.xml": "<!DOCTYPE a><a/>".encode("utf-16")}, "declares entities"),
        (
            {"xl/workbook.xml": b"<a/>", "xl/sharedStrings.xml": b"<si><t>a</t></si><x:si/>" * 10_001},
            "20002 texts for 0 cells",
        ),
        (
            {
                "xl/workbook.xml": b"<a/>",
                "xl/sharedStrings.xml": b"<si><t>%d</t></si>" * 30_000,
                "xl/worksheets/sheet1.xml": b'<c r="A1" t="s"><v>0</v></c>' * 9_999,
            },
            "30000 texts for 9999 cells",
        ),
        ({"xl/workbook.xml": b"<a/>"}, "damaged"),
    ],
)
def test_it_refuses_a_workbook_that_is_a_bomb_or_none(members: dict[str, bytes], sentence: str) -> None:
    assert sentence in refusal(archive(members), "bins.xlsx")


def test_it_refuses_a_workbook_that_claims_to_expand_beyond_the_limit() -> None:
    noise = bytes(range(256)) * 40_000
    members = {f"xl/media/{n}.bin": noise for n in range(11)}

    assert "expands to" in refusal(archive({"xl/workbook.xml": b"<a/>", **members}), "bins.xlsx")


def test_it_refuses_a_cut_off_workbook() -> None:
    assert "damaged or cut off" in refusal(workbook([["code"], ["A"]])[:-200], "bins.xlsx")


def test_it_reads_newline_delimited_json() -> None:
    sheet = read(
        '{"storeroom": "MALT", "code": "A-01"}\n\n{"code": "A-02", "storeroom": "MALT", "bin": 1.50}\n',
        "b.ndjson",
    )

    assert sheet.columns == ("storeroom", "code", "bin")
    assert [row.line for row in sheet.rows] == [1, 3]
    assert str(rows(sheet)[1]["bin"]) == "1.50"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('{"code": "A", "code": "B"}', "'code' is named more than once"),
        ('{"value": NaN}', "NaN is not a number"),
        ('{"value": -Infinity}', "-Infinity is not a number"),
        ('{"value": {"a": 1}}', "is an object"),
        ('{"value": [1]}', "list of words"),
        ("[1, 2]", "must be one JSON object"),
        ("{code: 1}", "not JSON"),
        ('{"value": ' + "[" * 100_000, "nested too deeply"),
        ('{"value": ' + "9" * 5000 + "}", "5000 digits"),
    ],
)
def test_it_names_the_line_of_json_that_cannot_be_read(line: str, words: str) -> None:
    sheet = read('{"code": "A"}\n' + line + '\n{"code": "C"}\n', "b.ndjson")

    _, second, _ = sheet.rows
    assert second.line == 2
    assert second.problem is not None
    assert words in sentence(second.problem)


def test_it_refuses_newline_delimited_json_that_breaks_off() -> None:
    assert "breaks off in line 2" in refusal('{"code": "A"}\n{"code": "B', "b.ndjson")
