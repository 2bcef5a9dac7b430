"""Files of more than one chunk: what belongs together may stand far apart, memory and report stay bounded."""

import io
import threading
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, OperationalError, connection

from api.exchange import checking, import_runs, messaging, results, run
from api.exchange import progress as progress_module
from api.exchange.import_runs import sent_file
from api.exchange.progress import RowProgress, reporting, store_if_possible
from api.exchange.run import import_stream
from api.models import BackgroundJob, Change, ImportFile, ImportRun, ImportState
from drives.models import InboundMessage, Installation, RecordedVerdict
from inventory.facts import fact
from inventory.models import Item, Specification
from inventory.plumbing import many_rows
from tests.api.exchange.files import load, load_up_to, sentences
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checking.batches, "__defaults__", (2,))


def items(*rows: str) -> str:
    return "stock_number,description,replaced_by,kind,chain,teeth\n" + "".join(f"{row}\n" for row in rows)


def test_successors_may_stand_in_other_parts_of_the_file() -> None:
    text = items("A,,C,,,", "B,,A,,,", "C,,,,,", "D,,B,,,", "E,,,,,")

    first, second = load("items", text), load("items", text)

    assert first.counts["created"] == 5
    assert second.counts["unchanged"] == 5
    assert dict(Item.objects.values_list("stock_number", "replaced_by__stock_number")) == {
        "A": "C",
        "B": "A",
        "C": None,
        "D": "B",
        "E": None,
    }


def test_a_rejected_successor_rejects_what_it_replaces_all_along_the_line() -> None:
    text = items("A,,B,,,", "B,,C,,,", "X,,,,,", "C,,,sprocket,08B,5", "Y,,,,,")

    result = load("items", text, partial=True)

    assert [(line, column) for line, column, _ in sentences(result)] == [
        (2, "replaced_by"),
        (3, "replaced_by"),
        (5, "teeth"),
    ]
    assert set(Item.objects.values_list("stock_number", flat=True)) == {"X", "Y"}


def test_successors_that_lead_back_are_found_across_the_file() -> None:
    result = load("items", items("A,,C,,,", "B,,,,,", "X,,,,,", "C,,A,,,"))

    assert {error.fact.code for row in result.row_results for error in row.errors} == {"successors_lead_back"}
    assert result.counts == {"rejected": 2, "created": 2}


def test_a_row_repeated_in_another_part_is_written_once_and_another_of_its_key_stops_the_file() -> None:
    repeated = load("items", items("A,one,,,,", "B,,,,,", "C,,,,,", "A,one,,,,"))
    other = load("items", items("A,one,,,,", "B,,,,,", "C,,,,,", "A,two,,,,"))

    assert repeated.counts == {"created": 3, "unchanged": 1}
    assert [problem.code for problem in other.problems] == ["two_rows_of_one_key"]
    assert other.problems[0].values["differs"] == "description"


def test_a_bad_row_at_the_end_keeps_everything_out() -> None:
    result = load("items", items("A,,,sprocket,08B,20", "B,,,,,", "C,,,,,", "D,,,sprocket,08B,5"))

    assert (result.counts["created"], result.rejected, result.written) == (3, 1, False)
    assert not Item.objects.exists()
    assert not Specification.objects.exists()
    assert not Change.objects.exists()


def test_lines_of_json_keep_what_they_leave_out() -> None:
    load("items", items("A,old words,,sprocket,08B,20", "B,more,,,,"))
    lines = b'{"stock_number": "A", "teeth": 21}\n{"stock_number": "B", "description": "new"}\n{"stock_number": "C"}\n'

    result = import_stream("items", io.BytesIO(lines), name="items.ndjson")

    assert result.counts == {"updated": 2, "created": 1}, result.row_results
    item = Item.objects.select_related("specification").get(stock_number="A")
    assert item.specification is not None
    assert (item.description, item.specification.teeth, item.specification.chain_designation) == (
        *("old words", 21),
        "08B",
    )
    assert Item.objects.get(stock_number="B").specification is None


def test_units_are_recorded_a_part_of_the_file_at_a_time_with_those_of_a_position_together(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(checking, "GATHERED", 2)
    load_up_to("items")
    places = ["WL-EL-01-D1-A", "WL-EL-01-D1-B"]
    rows = [
        f"{place},004711,20{year}-02-01T07:30:00Z,20{year + 1}-02-01T07:30:00Z,failure,worn in {year}\n"
        for year in (20, 12, 16, 11, 18, 14)
        for place in places
    ]
    text = "position,item,installed_at,removed_at,ended_by,note\n" + "".join(rows)
    overlapping = f"{places[0]},004711,2018-06-01T07:30:00Z,2018-07-01T07:30:00Z,failure,twice\n"
    before = Change.objects.count()

    first = load("installations", text)
    again = load("installations", text)
    refused = load("installations", text + overlapping)

    assert (first.counts, again.counts) == ({"created": 12}, {"unchanged": 12})
    assert (refused.counts, refused.written) == ({"unchanged": 12, "rejected": 1}, False)
    assert [line for line, _, _ in sentences(refused)] == [14]
    notes = Installation.objects.order_by("installed_at").values_list("position__tag", "note")
    assert [note for tag, note in notes if tag == places[1]] == [
        f"worn in {n}" for n in (11, 12, 14, 16, 18, 20)
    ]
    logged = Change.objects.order_by("id")[before:]
    assert {(one.action, one.key.rpartition("/")[0]) for one in logged} == {
        ("create", place) for place in places
    }
    assert sorted(one.after["note"] for one in logged) == sorted(2 * [note for _, note in notes][::2])
    assert RecordedVerdict.objects.filter(installation__isnull=False).count() == 12


def test_a_changed_row_logs_what_changed_of_item_and_part() -> None:
    load("items", items("A,old,,sprocket,08B,20", "B,x,,,,", "C,x,,,,"))
    before = Change.objects.count()

    result = load("items", items("A,new,,sprocket,08B,21", "B,x,,,,", "C,x,,,,"))

    assert result.counts == {"updated": 1, "unchanged": 2}
    logged = [(one.record, one.before, one.after) for one in Change.objects.order_by("id")[before:]]
    assert logged == [
        ("inventory.specification", {"teeth": 20}, {"teeth": 21}),
        ("inventory.item", {"description": "old"}, {"description": "new"}),
    ]


def test_every_bad_row_is_counted_although_a_report_has_an_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(results, "MOST_REJECTED", 2)
    monkeypatch.setattr(results, "MOST_LISTED", 3)

    result = load(
        "items", items("A,,,sprocket,08B,x", "B,,,,,", "C,,,sprocket,08B,y", "D,,,sprocket,08B,z", "E,,,,,")
    )

    assert result.counts == {"rejected": 3, "created": 2}
    assert [row.line for row in result.row_results] == [2, 3, 4]
    assert result.notes == (
        fact("rows_not_listed", count=2, listed=3),
        fact("more_rows_refused", count=1, column="teeth", reason="cell_not_number"),
    )


def test_a_file_travels_in_parts_and_shows_its_progress(
    as_manager: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(import_runs, "PART_BYTES", 10)
    text = "name,value\nheavy_mass_kg,2\nfast_driver_rpm,3\n"

    answer = as_manager.post("/api/v1/imports/?kind=rules", text.encode(), content_type="text/csv")

    assert ImportFile.objects.count() == 5
    with sent_file(ImportRun.objects.get()) as file:
        assert file.read().decode() == text
    assert answer.json()["progress"] == {"rows": None, "read": 0, "checked": 0, "written": 0}
    run_queued_jobs()
    found = as_manager.get(answer["Location"]).json()
    assert found["progress"] == {"rows": 2, "read": 2, "checked": 2, "written": 2}


def test_rejected_rows_are_checked_and_not_written() -> None:
    progress = RowProgress()
    load_up_to("storerooms")
    text = b"storeroom,code\nMAIN,A\nMAIN,B\nMIAN,C\nMAIN,D\n"

    import_stream("bins", io.BytesIO(text), name="bins.csv", progress=progress)

    assert (progress.rows, progress.read, progress.checked, progress.written) == (4, 4, 4, 2)
    assert (progress.done, progress.total) == (8, 8)


def test_progress_is_stored_while_the_work_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress_module, "SECONDS_BETWEEN", 0.01)
    read: list[int] = []
    first = threading.Event()
    progress = RowProgress()

    def store(one: RowProgress) -> None:
        read.append(one.read)
        first.set()
        raise DatabaseError("somebody else writes")

    with reporting(progress, partial(store_if_possible, store, 1)) as stop:
        progress.read = 5
        assert first.wait(10)
        stop()

    assert read == [5]


def test_while_sqlite_is_written_the_progress_stands_in_a_file_beside_it(
    as_manager: Any, tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "db-import-1"
    monkeypatch.setattr(progress_module, "file_beside_database", lambda run: file)
    run = ImportRun.objects.create(kind="rules", state=ImportState.RUNNING, progress={"rows": 9, "read": 9})

    def store(one: RowProgress) -> None:
        raise DatabaseError("database is locked")

    counted = RowProgress(rows=9, read=9, checked=4, written=3)
    thread = threading.Thread(target=store_if_possible, args=(store, run.pk, counted))
    thread.start()
    thread.join()

    found = as_manager.get(f"/api/v1/imports/{run.pk}/").json()
    assert found["progress"] == {"rows": 9, "read": 9, "checked": 4, "written": 3}
    file.write_text("{")
    assert as_manager.get(f"/api/v1/imports/{run.pk}/").json()["progress"]["checked"] == 0
    as_manager.post("/api/v1/imports/?kind=rules", "name,value\nheavy_mass_kg,2\n", content_type="text/csv")
    run_queued_jobs()
    assert not file.exists()


def test_memory_does_not_grow_with_the_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checking.batches, "__defaults__", (100,))
    for module in (checking, many_rows):
        monkeypatch.setattr(module, "WORDS_KEPT", 50)
    monkeypatch.setattr(results, "MOST_LISTED", 100)

    def peak(rows: int) -> int:
        text = io.BytesIO(items(*(f"{rows}-{n},part {n},,,," for n in range(rows))).encode())
        tracemalloc.start()
        result = import_stream("items", text, name="items.csv", dry_run=True)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert result.counts == {"created": rows}
        return most

    peak(200)
    assert peak(4_000) - peak(400) < 3_600 * 100, "bytes; a row that is kept takes a thousand"


def test_a_commit_that_fails_leaves_its_reason_with_the_run(
    as_manager: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = import_runs.import_stream

    def sealed_and_lost(*args: Any, seal: Any, **more: Any) -> Any:
        def seal_then_fail(result: Any) -> None:
            seal(result)
            raise IntegrityError("a record that is referred to was deleted meanwhile")

        return work(*args, seal=seal_then_fail, **more)

    monkeypatch.setattr(import_runs, "import_stream", sealed_and_lost)
    as_manager.post("/api/v1/imports/?kind=items", items("A,,,,,"), content_type="text/csv")
    run_queued_jobs()

    run = ImportRun.objects.get()
    assert [one["code"] for one in run.problems] == ["written_by_another_import"]
    assert not Item.objects.exists()
    assert not ImportFile.objects.exists()


FULL_TABLE = """
CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'could not extend file' USING ERRCODE = 'disk_full'; END $$;
CREATE TRIGGER no_room BEFORE INSERT ON inventory_item FOR EACH ROW EXECUTE FUNCTION no_room();
"""


@contextmanager
def full_disk(is_told_at_once: bool = True, table: str = "") -> Iterator[None]:
    """As the database says it: PostgreSQL of the table of items, SQLite of each new row, and of changes too where nothing can be told."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(FULL_TABLE)
        yield
        with connection.cursor() as cursor:
            cursor.execute("DROP TRIGGER no_room ON inventory_item")
        return
    refused = ["INSERT"]

    def refuse(execute: Any, sql: str, *rest: Any) -> Any:
        if sql.startswith(tuple(refused)) and table in sql and "lease" not in sql:
            refused.extend([] if is_told_at_once else ["UPDATE"])
            raise OperationalError("database or disk is full")
        return execute(sql, *rest)

    with connection.execute_wrapper(refuse), suppress(OperationalError):
        yield


@pytest.mark.parametrize("is_told_at_once", [True, pytest.param(False, marks=pytest.mark.sqlite)])
def test_an_import_that_meets_a_full_disk_says_so_and_how_to_go_on(
    is_told_at_once: bool, as_manager: Any
) -> None:
    sent = as_manager.post("/api/v1/imports/?kind=items", items("A,,,,,"), content_type="text/csv")
    with full_disk(is_told_at_once):
        run_queued_jobs()
    run_queued_jobs()  # There is room again.
    shown = as_manager.get(sent["Location"]).json()
    assert (shown["state"], shown["written"], Item.objects.count()) == ("failed", False, 0)
    assert [one["code"] for one in shown["problems"]] == ["import_without_room"]
    assert "make room, then send the file again" in shown["problems"][0]["explanation"]
    assert BackgroundJob.objects.get().error == "job_without_room"


def parts_used(*rows: tuple[str, int]) -> io.BytesIO:
    """Order and line of each row."""
    moment = "2026-03-01T06:30:00+01:00"
    lines = (f"planning,{order},{line},{moment},SPR-A,1,MAIN\n" for order, line in rows)
    header = "source,external_id,line,updated_at,item,quantity,storeroom\n"
    return io.BytesIO((header + "".join(lines)).encode())


def test_lines_of_one_order_may_stand_in_any_part_of_the_file() -> None:
    progress = RowProgress()

    result = import_stream(
        "parts-used", parts_used(("A", 1), ("B", 1), ("C", 1), ("A", 2), ("B", 2)), name="", progress=progress
    )

    assert not result.problems
    found = {one.external_id: one.body["parts_used"] for one in InboundMessage.objects.all()}
    assert {order: [used["line"] for used in lines] for order, lines in found.items()} == {
        "A": ["1", "2"],
        "B": ["1", "2"],
        "C": ["1"],
    }
    assert (progress.rows, progress.read, progress.checked, progress.written) == (5, 5, 5, 5)


def test_only_so_many_lines_wait_for_the_rest_of_their_order(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(messaging, "MOST_IN_MEMORY", 2)

    together = import_stream("parts-used", parts_used(*((one, n) for one in "ABCD" for n in (1, 2))), name="")
    apart = import_stream("parts-used", parts_used(*((one, n) for n in (3, 4) for one in "ABCD")), name="")

    assert (together.problems, InboundMessage.objects.count()) == ((), 4)
    assert [one.code for one in apart.problems] == ["lines_of_orders_too_far_apart"]


def test_nested_work_orders_are_read_one_by_one_and_counted() -> None:
    progress = RowProgress()
    lines = "".join(
        f'{{"source": "orders", "external_id": "{number}", "updated_at": "2026-03-01T06:30:00Z", '
        '"failure": {"mechanism": "wear"}}\n'
        for number in (1, 2)
    )

    result = import_stream("work-orders", io.BytesIO(lines.encode()), name="orders.ndjson", progress=progress)

    assert not result.problems
    assert (progress.rows, progress.read, progress.checked, progress.written) == (2, 2, 2, 2)


def test_what_waits_for_a_record_is_tried_again_after_the_import_is_committed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    inside: list[bool] = []
    depth = len(connection.savepoint_ids)
    monkeypatch.setattr(
        run, "retry_waiting", lambda now: inside.append(len(connection.savepoint_ids) > depth)
    )

    load("items", items("A,,,,,"))
    load("items", items("A,,,,,"), dry_run=True)

    assert inside == [False]


def test_an_import_stands_although_what_waits_cannot_be_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(now: object) -> None:
        raise OperationalError("database is locked")

    monkeypatch.setattr(run, "retry_waiting", locked)

    assert load("items", items("A,,,,,")).counts == {"created": 1}
