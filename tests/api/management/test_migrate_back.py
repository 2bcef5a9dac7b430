from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from api.management.commands import migrate_back

pytestmark = pytest.mark.django_db


def listed(*, without: str = "") -> str:
    """As showmigrations prints it."""
    lines = []
    for app, name in sorted(MigrationRecorder(connection).applied_migrations()):
        lines += [app, f" [X] {name}"] if name != without else [app, f" [ ] {name}"]
    return "\n".join(lines)


def go_back(path: Path, text: str) -> str:
    path.write_text(text)
    said = StringIO()
    call_command("migrate_back", path, stdout=said)
    return said.getvalue()


def test_what_is_no_list_takes_nothing_back(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="must be what `showmigrations` printed"):
        go_back(tmp_path / "list.txt", "")
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("migrate_back", tmp_path / "none.txt")


def test_a_list_from_before_migrations_became_one_is_of_the_same_database(tmp_path: Path) -> None:
    squashed = "0001_first_release"
    before = "\n".join(line for line in listed().splitlines() if squashed not in line)
    assert "nothing to take back" in go_back(tmp_path / "list.txt", before)
    with pytest.raises(CommandError, match="whose migrations have become one"):
        go_back(tmp_path / "list.txt", before.replace("0012_alter_user_first_name_max_length", "0011_other"))


def test_where_one_cannot_be_taken_back_none_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = listed()
    assert "nothing to take back" in go_back(tmp_path / "list.txt", before)
    monkeypatch.setattr(migrate_back, "can_go_back", lambda migration: False)
    with pytest.raises(CommandError, match=r"auth\.0012\w+ cannot be taken back: restore the backup"):
        go_back(tmp_path / "list.txt", listed(without="0012_alter_user_first_name_max_length"))
    assert listed() == before
    MigrationRecorder(connection).record_applied("api", "9000_of_another_version")
    with pytest.raises(CommandError, match=r"does not have api\.9000_of_another_version"):
        go_back(tmp_path / "list.txt", before)
