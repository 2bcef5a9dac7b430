import threading
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from api.exchange import progress
from api.management.commands import import_records
from inventory.models import Rule

pytestmark = pytest.mark.django_db


def write(folder: Path, text: str) -> str:
    file = folder / "rules.csv"
    file.write_text(text)
    return str(file)


def test_it_prints_what_came_of_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("import_records", "rules", write(tmp_path, "name,value\nheavy_mass_kg,2\n"))

    assert (
        capsys.readouterr().out == "thresholds of the plant: 1 created, 0 updated, 0 unchanged, 0 rejected.\n"
    )
    assert Rule.objects.get().value == 2


def test_it_names_what_is_wrong_and_exits_with_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        call_command(
            "import_records", "rules", write(tmp_path, "name,value\nheavy_mass_kg,two\nfast_driver_rpm,1\n")
        )

    told = capsys.readouterr()
    assert left.value.code == 1
    assert told.err.startswith("line 2, value: 'two' is not a number")
    assert "Nothing was written" in told.out
    assert not Rule.objects.exists()


def test_a_dry_run_changes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("import_records", "rules", write(tmp_path, "name,value\nheavy_mass_kg,2\n"), "--dry-run")

    assert "1 created" in capsys.readouterr().out
    assert not Rule.objects.exists()


def test_the_good_rows_come_in_when_that_is_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        call_command(
            "import_records",
            "rules",
            write(tmp_path, "name,value\nheavy_mass_kg,x\nfast_driver_rpm,1\n"),
            "--partial",
        )

    assert "The rejected rows were left out." in capsys.readouterr().out
    assert Rule.objects.get().name == "fast_driver_rpm"


def test_it_refuses_a_file_as_a_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        call_command("import_records", "rules", write(tmp_path, "name,valeu\nheavy_mass_kg,2\n"))

    assert 'Did you mean "value"?' in capsys.readouterr().err


def test_it_says_when_there_is_no_such_file() -> None:
    with pytest.raises(CommandError, match="cannot be read: No such file"):
        call_command("import_records", "rules", "nowhere.csv")


def test_a_terminal_shows_how_far_it_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(progress, "SECONDS_BETWEEN", 0.01)
    monkeypatch.setattr(import_records.sys.stderr, "isatty", lambda: True, raising=False)
    seen = threading.Event()
    work, show = import_records.import_stream, import_records.show

    def shown(one: progress.RowProgress) -> None:
        show(one)
        seen.set()

    def slow(*given: Any, progress: Any, **more: Any) -> Any:
        progress.rows, progress.read = 1_200_000, 2_000
        assert seen.wait(10)
        return work(*given, progress=progress, **more)

    monkeypatch.setattr(import_records, "show", shown)
    monkeypatch.setattr(import_records, "import_stream", slow)
    call_command("import_records", "rules", write(tmp_path, "name,value\nheavy_mass_kg,2\n"))

    told = capsys.readouterr()
    assert "2,000 read, 0 checked, 0 written of 1,200,000 rows" in told.err
    assert "1 created" in told.out
