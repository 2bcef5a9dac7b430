"""The sheets of an open import are read once, and again when anything changes that the reading rests on."""

import io
from typing import Any

import pytest
from django.db import DatabaseError

from api.exchange import kept_readings, set_questions
from api.exchange.import_sets import GivenFile, choose_kinds, make_set
from api.exchange.set_questions import answer, mapped_sheets
from api.exchange.set_runs import carry_out
from api.models import ImportSet, ImportSheet
from tests import factories as make

pytestmark = pytest.mark.django_db
PARTS = "Teilenummer;Bezeichnung;Kette;Z;Bohrung;Art\n0815;Kettenrad;08B-1;17;25;REP\n0816;Kettenrad;12B;19;35;XX\n"


@pytest.fixture
def owner() -> ImportSet:
    make.PlantFactory()
    return make_set([GivenFile("Teile.csv", io.BytesIO(PARTS.encode()))], by_name="ines")


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The sheets that were read from their file."""
    found: list[str] = []
    read = set_questions.read_parts

    def noted(owner: ImportSet, sheet: ImportSheet, file: Any) -> Any:
        found.append(sheet.kind)
        return read(owner, sheet, file)

    monkeypatch.setattr(set_questions, "read_parts", noted)
    return found


def test_what_is_kept_is_what_was_read(owner: ImportSet, reads: list[str]) -> None:
    (first,), (again,) = mapped_sheets(owner), mapped_sheets(owner)
    assert reads == ["items"]
    assert first.parts
    assert any(part.questions for part in first.parts)
    assert (first.parts, first.source) == (again.parts, again.source)


def answer_once(owner: ImportSet) -> None:
    sheets = mapped_sheets(owner)
    assert answer(sheets, {}, {f"{sheets[0].sheet.number} Bezeichnung": ""}) == 1


def correct_kind(owner: ImportSet) -> None:
    choose_kinds(owner, {1: "opening-balances"})


def record_another_plant(owner: ImportSet) -> None:
    make.PlantFactory(code="HILL")


def change_a_zone(owner: ImportSet) -> None:
    room = make.StoreroomFactory()
    mapped_sheets(owner)
    room.timezone = "Europe/Helsinki"
    room.save()


@pytest.mark.parametrize("act", [answer_once, correct_kind, record_another_plant, change_a_zone])
def test_it_is_read_again_after_a_change(act: Any, owner: ImportSet, reads: list[str]) -> None:
    mapped_sheets(owner)
    act(owner)
    reads.clear()
    mapped_sheets(owner)
    mapped_sheets(owner)
    assert len(reads) == 1


def test_another_program_reads_it_again(
    owner: ImportSet, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    mapped_sheets(owner)
    monkeypatch.setattr(kept_readings, "program", lambda: "another")
    mapped_sheets(owner)
    assert len(reads) == 2


def test_a_sheet_as_a_template_asks_is_not_checked_again(reads: list[str]) -> None:
    given = GivenFile("plants.csv", io.BytesIO(b"code,name\nWEIR,Weir Lane\n"))
    owner = make_set([given], by_name="ines")
    assert [mapped_sheets(owner), mapped_sheets(owner)] == [[], []]
    assert reads == ["plants"]


def test_the_page_is_shown_where_nothing_can_be_written(
    owner: ImportSet, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: Any, **more: Any) -> None:
        raise DatabaseError("read-only")

    monkeypatch.setattr(ImportSheet, "save", refuse)
    assert mapped_sheets(owner)


def test_nothing_of_a_file_stays_after_its_import() -> None:
    given = GivenFile("Werke.csv", io.BytesIO(b"Code;Bezeichnung;Zeitzone\nWEIR;Weir;Europe/Vienna\n"))
    owner = make_set([given], kind="plants", by_name="ines")
    mapped_sheets(owner)
    assert owner.sheets.get().reading
    carry_out(owner, dry_run=False)
    assert [owner.state, owner.sheets.get().reading] == ["done", {}]
