import codecs
import csv
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from drives.models import InboundMessage, Installation, MeterReading, WorkOrder
from inventory.models import Lease
from tests.drives.feed.messages import day, on_hand, place
from tests.drives.feed.state_hash import state_hash

pytestmark = pytest.mark.django_db
ORDERS = (
    "source;external_id;updated_at;title;kind;status;position;opened_at;closed_at;mechanism;removed_at;running_hours\n"
    "planning;WO-1;2024-06-01T08:00:00+02:00;Kettenrad läuft laut;corrective;open;STEEP-EL1-P1;2024-06-01T08:00:00+02:00;;;;\n"
    "planning;WO-1;2024-06-02T08:00:00+02:00;Kettenrad läuft laut;corrective;closed;STEEP-EL1-P1;2024-06-01T08:00:00+02:00;"
    "2024-06-01T12:00:00+02:00;wear;2024-06-01T10:00:00+02:00;12345,5\n"
)
PARTS = (
    "source,external_id,line,updated_at,item,quantity,storeroom\n"
    "planning,WO-1,1,2024-06-02T08:00:00Z,SPR-B,2,MAIN\nplanning,WO-1,2,2024-06-02T08:00:00Z,SPR-B,-1,MAIN\n"
)
HOURS = (
    "source,external_id,updated_at,position,at,hours,is_reset\n"
    "planning,R-1,2024-06-02T08:00:00Z,STEEP-EL1-P1,2024-05-01T08:00:00Z,9000.5,no\n"
)


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    place()


def drop(folder: Path, **files: str | bytes) -> None:
    for name, content in files.items():
        path = folder / f"{name.replace('_', '-')}.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())


def take(folder: Path, *more: str) -> int:
    """The exit code."""
    try:
        call_command("import_folder", str(folder), "--quiet-seconds", "0", *more)
    except SystemExit as stopped:
        return int(str(stopped.code))
    return 0


def results(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_a_night_of_files_does_what_the_messages_would(tmp_path: Path) -> None:
    drop(tmp_path, work_orders_2024=ORDERS, parts_used=PARTS, meter_readings=HOURS)
    assert take(tmp_path) == 0
    ended = Installation.objects.get(removed_at__isnull=False)
    assert (ended.mechanism, str(ended.running_hours), ended.age_basis) == ("wear", "12345.5", "meter")
    assert str(Installation.objects.get(removed_at=None).item) == "SPR-B"
    assert (on_hand("SPR-B"), MeterReading.objects.get().hours) == (4, 9000.5)


def test_each_file_is_put_away_with_its_result(tmp_path: Path) -> None:
    drop(tmp_path, work_orders=ORDERS)
    take(tmp_path)
    assert not list(tmp_path.glob("*.csv"))
    assert (tmp_path / "done" / "work-orders.csv").read_text() == ORDERS
    told = results(tmp_path / "done" / "work-orders.csv.result.csv")
    assert [(row["line"], row["outcome"]) for row in told] == [("2", "created"), ("3", "updated")]


def test_the_same_files_again_change_nothing(tmp_path: Path) -> None:
    for _ in range(2):
        drop(tmp_path, work_orders=ORDERS, parts_used=PARTS, meter_readings=HOURS)
        assert take(tmp_path) == 0
        found = state_hash(), InboundMessage.objects.count()
    assert found == (state_hash(), 4)
    again = results(tmp_path / "done" / "work-orders.1.csv.result.csv")
    assert {row["outcome"] for row in again} == {"unchanged"}


def test_files_in_any_order_end_in_the_same_state(tmp_path: Path) -> None:
    drop(tmp_path, parts_used=PARTS)
    take(tmp_path)
    assert InboundMessage.objects.get().outcome == "waiting"
    drop(tmp_path, work_orders=ORDERS)
    take(tmp_path)
    assert set(InboundMessage.objects.values_list("outcome", flat=True)) == {"applied"}
    assert on_hand("SPR-B") == 4


def test_a_run_broken_off_between_taking_in_and_putting_away_is_repeated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drop(tmp_path, work_orders=ORDERS)

    def break_off(*args: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr("api.exchange.watch_folder.put_away", break_off)
        with pytest.raises(KeyboardInterrupt):
            take(tmp_path)
    before = state_hash()
    assert take(tmp_path) == 0
    assert (state_hash(), (tmp_path / "done" / "work-orders.csv").exists()) == (before, True)


def test_only_one_run_is_at_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drop(tmp_path, work_orders=ORDERS)
    Lease.objects.create(name="command import_folder", holder="another", until=day(9_000))
    assert take(tmp_path) == 0
    assert "Another run is under way" in capsys.readouterr().out
    assert (tmp_path / "work-orders.csv").exists()
    assert not WorkOrder.objects.exists()


@pytest.mark.parametrize(
    "content",
    [
        codecs.BOM_UTF8 + ORDERS.encode(),
        codecs.BOM_UTF16_LE + ORDERS.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + ORDERS.encode("utf-16-be"),
        ORDERS.encode("latin-1"),
        ORDERS.replace("\n", "\r\n").encode(),
        ORDERS.replace(";", "\t").encode(),
    ],
    ids=["utf-8 with its mark", "utf-16 le", "utf-16 be", "latin-1", "crlf", "tabs"],
)
def test_every_usual_encoding_is_read(content: bytes, tmp_path: Path) -> None:
    drop(tmp_path, work_orders=content)
    assert take(tmp_path) == 0
    order = WorkOrder.objects.get()
    assert (order.title, str(order.running_hours)) == ("Kettenrad läuft laut", "12345.5")


HEAD = "source,external_id,updated_at,status,position,title\n"
ROW = "planning,WO-{n},2024-06-0{n}T08:00:00Z,open,STEEP-EL1-P1,noisy\n"


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("", "The file is empty."),
        (HEAD, "has no rows"),
        (HEAD + ROW.format(n=1) + "planning,WO-2,2024-06-0", "breaks off in line 3"),
        (HEAD + ROW.format(n=1) + 'planning,WO-2,2024-06-02T08:00:00Z,open,"STEEP', "cut off"),
        (HEAD.replace("title", "status") + ROW.format(n=1), "'status' is named 2 times"),
        (HEAD.replace("title", "colour") + ROW.format(n=1), "no column 'colour'"),
        (HEAD.replace("updated_at", "title") + ROW.format(n=1), "'title' is named 2 times"),
        (
            HEAD + ROW.format(n=1) + ROW.format(n=1).replace("noisy", "loose"),
            "Lines 2 and 3 both say planning / WO-1 / 2024-06-01T08:00:00+00:00, with different title",
        ),
        (b"\x00\x01\x02", "NUL"),
        (b"PK\x03\x04rubbish", "is called .csv but is an archive"),
    ],
)
def test_a_file_that_cannot_be_trusted_is_put_aside_whole(
    content: str | bytes, sentence: str, tmp_path: Path
) -> None:
    drop(tmp_path, work_orders=content)
    assert take(tmp_path) == 1
    told = results(tmp_path / "failed" / "work-orders.csv.result.csv")
    assert any(sentence in row["detail"] for row in told), told
    assert not InboundMessage.objects.exists()


BAD = HEAD + ROW.format(n=1) + "planning,WO-2,yesterday,open,STEEP-EL1-P1,noisy\n" + ROW.format(n=3)


def test_good_rows_come_in_beside_bad_ones(tmp_path: Path) -> None:
    drop(tmp_path, work_orders=BAD)
    assert take(tmp_path) == 1
    assert set(WorkOrder.objects.values_list("external_id", flat=True)) == {"WO-1", "WO-3"}
    told = results(tmp_path / "failed" / "work-orders.csv.result.csv")
    assert [(row["line"], row["outcome"], row["column"]) for row in told] == [
        ("2", "created", ""),
        ("3", "rejected", "updated_at"),
        ("4", "created", ""),
    ]


def test_a_whole_file_waits_for_its_bad_row(tmp_path: Path) -> None:
    drop(tmp_path, work_orders=BAD)
    assert take(tmp_path, "--whole") == 1
    assert not InboundMessage.objects.exists()


def test_a_row_that_names_what_is_not_known_waits_and_is_said_so(tmp_path: Path) -> None:
    drop(tmp_path, work_orders=HEAD + ROW.format(n=1).replace("EL1", "EL9"))
    assert take(tmp_path) == 0
    (row,) = results(tmp_path / "done" / "work-orders.csv.result.csv")
    assert (row["outcome"], row["column"]) == ("waiting", "position")
    assert "STEEP-EL9-P1" in row["detail"]


def test_hours_that_run_backwards_wait_to_be_looked_at(tmp_path: Path) -> None:
    later = "planning,R-2,2024-06-02T08:00:00Z,STEEP-EL1-P1,2024-05-02T08:00:00Z,17.0,no\n"
    drop(tmp_path, meter_readings=HOURS + later)
    assert take(tmp_path) == 0
    told = results(tmp_path / "done" / "meter-readings.csv.result.csv")
    assert [row["outcome"] for row in told] == ["created", "waiting"]
    assert "is_reset" in told[1]["detail"]


def test_a_file_still_being_written_is_left_to_the_next_run(tmp_path: Path) -> None:
    drop(tmp_path, work_orders=ORDERS)
    call_command("import_folder", str(tmp_path), "--quiet-seconds", "3600")
    assert (tmp_path / "work-orders.csv").exists()


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="is not a folder"):
        call_command("import_folder", str(tmp_path / "gone"))


def test_a_formula_in_a_title_is_told_as_text(tmp_path: Path) -> None:
    drop(tmp_path, work_orders=HEAD + ROW.format(n=1).replace("WO-1", "=WO-1").replace("open", "=1+1"))
    take(tmp_path)
    assert WorkOrder.objects.get().unread_codes == {"status": "=1+1"}
