import json
import os
import shutil
import stat
import threading
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import F

from api.models import AccessToken, Change, Delivery
from api.operations.backup import writing
from api.operations.backup.reading import ArchiveRefused, DatabaseNotEmpty, restore
from api.operations.backup.tables import column_names, kept_models, rows_of
from api.operations.backup.writing import write_backup
from api.webhooks.delivering import attempt
from inventory.models import Event, Item, StockEntry
from inventory.plumbing.events import sequence_events
from inventory.plumbing.leases import take
from tests import factories as make
from tests.api.webhooks.subscribing import happen, queue, subscribe
from tests.processes import manage, shared_database

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def plant() -> None:
    """Something of every kind of column, and numbers whose rows are gone."""
    make.InstallationFactory()
    item = make.ItemFactory(
        stock_number="41-0105", description="Kettenrad “08B” ☃ %s 100 %", unit_cost=Decimal("12.3400")
    )
    make.stock(item, make.StoreroomFactory(code="OM-MAIN"), 5)
    make.StockPolicyFactory()
    Change.objects.create(
        by_name="Marta", action="change", record="inventory.item", key="41-0105", before={"a": [1.5, None]}
    )
    AccessToken.objects.issue("the feed", role="integration", scopes=["a"])
    subscribe("https://hooks.example/")
    happen(data={"n": 0.1, "big": 10**15, "text": "\u2028\n"})
    queue()
    happen("item/waiting")
    make.ItemFactory(stock_number="GONE").delete()
    take("job plan_counts", "another", 600)


def everything() -> dict[str, list[bytes]]:
    return {model._meta.db_table: list(rows_of(model)) for model in kept_models()}


def test_every_row_comes_back_as_it_was(plant: None, tmp_path: Path) -> None:
    before, archive = everything(), tmp_path / "plant.zip"
    tables = write_backup(archive)
    assert {table.name: table.rows for table in tables} == {name: len(rows) for name, rows in before.items()}
    make.ItemFactory(stock_number="LATER")
    Item.objects.filter(stock_number="41-0105").update(description="changed")
    restore(archive, may_replace=True)
    assert everything() == before
    found = Item.objects.get(stock_number="41-0105")
    assert (found.unit_cost, found.description) == (Decimal("12.34"), "Kettenrad “08B” ☃ %s 100 %")


def test_numbers_that_were_given_once_are_not_given_again(plant: None, tmp_path: Path) -> None:
    gone = make.ItemFactory(stock_number="GONE TOO")
    key = gone.pk
    gone.delete()
    write_backup(tmp_path / "plant.zip")
    restore(tmp_path / "plant.zip", may_replace=True)
    assert make.ItemFactory(stock_number="NEW").pk == key + 1


@pytest.mark.parametrize("model", [StockEntry, Change])
def test_what_may_only_grow_may_only_grow_afterwards_too(plant: None, tmp_path: Path, model: Any) -> None:
    write_backup(tmp_path / "plant.zip")
    restore(tmp_path / "plant.zip", may_replace=True)
    assert model.objects.exists()
    for act in (lambda: model.objects.all().delete(), lambda: model.objects.update(id=F("id"))):
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            act()


def test_an_event_of_before_is_sent_with_the_same_bytes_and_secret(
    plant: None, tmp_path: Path, monkeypatch: Any
) -> None:
    sent: list[Any] = []
    monkeypatch.setattr(
        "api.webhooks.delivering.send", lambda url, body, headers: sent.append((body, headers["webhook-id"]))
    )
    write_backup(tmp_path / "plant.zip")
    for _ in range(2):
        attempt(Delivery.objects.select_related("webhook", "event").earliest("pk"))
        restore(tmp_path / "plant.zip", may_replace=True)
    assert sent[0] == sent[1]


def test_the_ledger_replays_without_a_difference(plant: None, tmp_path: Path, capsys: Any) -> None:
    write_backup(tmp_path / "plant.zip")
    restore(tmp_path / "plant.zip", may_replace=True)
    call_command("verify_ledger")
    assert "0 differences" in capsys.readouterr().out


def test_readers_of_events_learn_of_it_and_skip_nothing_that_comes(plant: None, tmp_path: Path) -> None:
    archive = str(tmp_path / "plant.zip")
    call_command("backup", archive)
    for n in range(5):
        happen(f"item/lost{n}")
    sequence_events()
    remembered = Event.objects.order_by("-sequence").values_list("sequence", flat=True)[0]
    call_command("restore", archive, "--yes")
    happen("item/new")
    sequence_events()
    told = Event.objects.filter(sequence__gt=remembered).order_by("sequence").values_list("type", "aggregate")
    assert list(told) == [("service.restored", "service"), ("stock.moved", "item/new")]


def test_a_database_that_is_not_empty_is_not_replaced_unasked(plant: None, tmp_path: Path) -> None:
    write_backup(tmp_path / "plant.zip")
    before = everything()
    with pytest.raises(DatabaseNotEmpty, match="rows in"):
        restore(tmp_path / "plant.zip", may_replace=False)
    with pytest.raises(CommandError, match="--yes"):
        call_command("restore", str(tmp_path / "plant.zip"))
    assert everything() == before


def test_an_archive_is_for_its_owner_alone_and_leaves_nothing_beside_it(plant: None, tmp_path: Path) -> None:
    call_command("backup", str(tmp_path / "plant.zip"))
    assert [one.name for one in tmp_path.iterdir()] == ["plant.zip"]
    assert stat.S_IMODE((tmp_path / "plant.zip").stat().st_mode) == 0o600


def test_a_backup_that_breaks_off_leaves_the_one_before(
    plant: None, tmp_path: Path, monkeypatch: Any
) -> None:
    (tmp_path / "plant.zip").write_bytes(b"the one before")

    def full(*args: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing, "write_table", full)
    with pytest.raises(CommandError, match="No space left"):
        call_command("backup", str(tmp_path / "plant.zip"))
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == {"plant.zip": b"the one before"}


def edited(archive: Path, edit: Callable[[str, bytes], bytes | None]) -> Path:
    """The archive with some members changed, or without them, packed soundly again."""
    target = archive.with_name("edited.zip")
    with zipfile.ZipFile(archive) as source, zipfile.ZipFile(target, "w") as copy:
        for name in source.namelist():
            content = edit(name, source.read(name))
            if content is not None:
                copy.writestr(name, content)
    return target


def in_manifest(change: Callable[[dict[str, Any]], Any]) -> Callable[[str, bytes], bytes]:
    def edit(name: str, content: bytes) -> bytes:
        if name != "manifest.json":
            return content
        said = json.loads(content)
        change(said)
        return json.dumps(said).encode()

    return edit


ITEMS = "tables/inventory_item.jsonl"
DAMAGES: dict[str, tuple[Callable[[str, bytes], bytes | None], str]] = {
    "a member is missing": (lambda n, c: None if n == ITEMS else c, f"{ITEMS} is missing"),
    "a row is missing": (
        lambda n, c: c.partition(b"\n")[2] if n == ITEMS else c,
        "rows; [0-9]+ were written",
    ),
    "a value is another": (
        lambda n, c: c.replace(b"41-0105", b"41-0106") if n == ITEMS else c,
        f"{ITEMS} is damaged",
    ),
    "no manifest": (lambda n, c: None if n == "manifest.json" else c, "no manifest.json"),
    "no JSON": (lambda n, c: b"{" if n == "manifest.json" else c, "manifest.json cannot be read"),
    "another format": (in_manifest(lambda said: said.update(format=99)), "format 99"),
    "another version": (
        in_manifest(lambda said: said["migrations"].append("inventory.9999_later")),
        "inventory.9999_later, which this database lacks",
    ),
    "an older version": (in_manifest(lambda said: said["migrations"].pop()), "which the archive lacks"),
    "another table": (in_manifest(lambda said: said["tables"][0].update(name="no_table")), "no_table"),
    "another column": (
        in_manifest(lambda said: said["tables"][0]["columns"].append("x")),
        "not those of this version",
    ),
}


def test_a_damaged_archive_is_refused_by_name_and_changes_nothing(plant: None, tmp_path: Path) -> None:
    write_backup(tmp_path / "plant.zip")
    before = everything()
    for edit, sentence in DAMAGES.values():
        with pytest.raises(ArchiveRefused, match=sentence):
            restore(edited(tmp_path / "plant.zip", edit), may_replace=True)
    assert everything() == before


def test_an_archive_cut_short_or_with_a_turned_bit_is_refused(plant: None, tmp_path: Path) -> None:
    archive = tmp_path / "plant.zip"
    write_backup(archive)
    whole = archive.read_bytes()
    for damaged in (whole[: len(whole) // 2], b"", b"no archive", turned(whole)):
        archive.write_bytes(damaged)
        with pytest.raises(ArchiveRefused):
            restore(archive, may_replace=True)


def turned(whole: bytes) -> bytes:
    """One bit inside the packed rows of the first table that has any."""
    at = whole.index(b"tables/auth_permission.jsonl") + 200
    return whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]


def test_a_row_that_does_not_fit_undoes_all_of_it(plant: None, tmp_path: Path, monkeypatch: Any) -> None:
    write_backup(tmp_path / "plant.zip")
    before = everything()
    monkeypatch.setattr("api.operations.backup.reading.row_from", lambda fields, line: 1 / 0)
    with pytest.raises(ArchiveRefused, match="line 1 cannot be read"):
        restore(tmp_path / "plant.zip", may_replace=True)
    assert everything() == before
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        StockEntry.objects.all().delete()


def test_the_time_of_day_and_the_last_microsecond_survive(tmp_path: Path) -> None:
    moment = datetime(2026, 10, 25, 1, 30, 0, 1, tzinfo=UTC)
    hours = make.OpeningHoursFactory(opens="06:30", closes="22:15")
    event = happen(occurred_at=moment + timedelta(microseconds=1))
    write_backup(tmp_path / "plant.zip")
    restore(tmp_path / "plant.zip", may_replace=True)
    event.refresh_from_db()
    assert event.occurred_at == moment + timedelta(microseconds=1)
    old = str(hours.opens)
    hours.refresh_from_db()
    assert str(hours.opens).startswith(old)


def test_the_command_writes_what_another_process_committed(plant: None, tmp_path: Path) -> None:
    url = shared_database(tmp_path)
    found = manage(url, "backup", str(tmp_path / "plant.zip"))
    assert (found.returncode, "rows of" in found.stdout) == (0, True), found.stderr
    with zipfile.ZipFile(tmp_path / "plant.zip") as archive:
        assert archive.read(ITEMS).count(b"\n") == Item.objects.count()


@pytest.mark.postgresql
def test_a_backup_is_of_one_moment_while_others_write(plant: None, tmp_path: Path, monkeypatch: Any) -> None:
    count, write_table = Item.objects.count(), writing.write_table

    def write_meanwhile() -> None:
        make.ItemFactory(stock_number="MEANWHILE")
        connection.close()

    def slowly(archive: Any, model: Any) -> Any:
        if model is Item:
            writer = threading.Thread(target=write_meanwhile)
            writer.start()
            writer.join()
        return write_table(archive, model)

    monkeypatch.setattr(writing, "write_table", slowly)
    tables = {table.name: table.rows for table in write_backup(tmp_path / "plant.zip")}
    assert (tables["inventory_item"], Item.objects.count()) == (count, count + 1)


def test_the_archive_of_the_other_engine_is_restored_too(
    plant: None, migrated_file: Path, tmp_path: Path
) -> None:
    """Here from SQLite to whichever engine is tested: the archive says nothing of where it was made."""
    sequence_events()
    before = everything()
    write_backup(tmp_path / "plant.zip")
    target = f"sqlite:///{shutil.copy(migrated_file, tmp_path / 'other.sqlite3')}"
    archive, back = str(tmp_path / "plant.zip"), str(tmp_path / "back.zip")
    assert manage(target, "restore", archive).returncode == 0
    assert manage(target, "backup", back).returncode == 0
    restore(Path(back), may_replace=True)
    found = everything()
    events = found["inventory_event"]
    assert b"service.restored" in events.pop()
    assert {name: rows for name, rows in found.items() if before[name] != rows} == {}


def test_each_column_is_kept() -> None:
    with connection.cursor() as cursor:
        for model in kept_models():
            described = connection.introspection.get_table_description(cursor, model._meta.db_table)
            assert {one.name for one in described} == set(column_names(model)), os.fspath(
                model._meta.db_table
            )
