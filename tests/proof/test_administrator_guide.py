"""The guide for administrators: its commands are carried out from the page, in its order, on PostgreSQL and SQLite."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import psycopg
import pytest

from api.screens.guides.library import FOLDER
from tests.processes import manage
from tests.programs import HOUSE
from tests.proof.cluster import Cluster
from tests.proof.conftest import Prepared
from tests.proof.typed_commands import Shell, blocks, installed_command

pytestmark = pytest.mark.postgresql
ITEMS = "SELECT count(*) FROM inventory_item"
GUIDE = (FOLDER / "en" / "administrator.md").read_text(encoding="utf-8")


class Day:
    """A machine with the names of the guide, all in one folder."""

    def __init__(self, folder: Path, cluster: Cluster) -> None:
        self.folder = folder
        self.server = f"postgresql://spares@{quote(str(cluster.folder), safe='')}"
        self.names = {
            "/etc/spares.env": str(folder / "spares.env"),
            "/var/backups/spares": str(folder / "backups"),
            "/srv/spares": str(folder),
            "postgresql://spares@db.example": self.server,
        }

    def as_here(self, block: str) -> str:
        for name, here in self.names.items():
            block = block.replace(name, here)
        return block

    def count(self, name: str, question: str = ITEMS) -> int:
        with psycopg.connect(f"{self.server}/{name}") as connection:
            return int(connection.execute(question.encode()).fetchone()[0])  # type: ignore[index]


@pytest.fixture
def day(prepared: Prepared, cluster: Cluster, tmp_path: Path, migrated_file: Path) -> Day:
    prepared.copy("administered")
    one = Day(tmp_path, cluster)
    (tmp_path / "backups").mkdir()
    # The guide migrates it.
    shutil.copy(migrated_file, tmp_path / "copy.sqlite3")
    settings = {
        "PRODUCTION": "true",
        "SECRET_KEY": "a-secret-of-this-day-alone-" * 3,
        "PUBLIC_URL": "https://spares.example",
        "DATABASE_URL": f"{one.server}/administered",
    }
    text = "".join(f"{name}={value}\n" for name, value in settings.items())
    (tmp_path / "spares.env").write_text(text, encoding="utf-8")
    return one


@pytest.fixture
def shell(day: Day, cluster: Cluster, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shell]:
    for name in ("DATABASE_URL", "PRODUCTION", "SECRET_KEY", "ENV_FILE", "DJANGO_ALLOW_ASYNC_UNSAFE"):
        monkeypatch.delenv(name, raising=False)
    with installed_command(day.folder) as programs:
        path = f"{programs}:{cluster.programs}:/usr/bin:/bin"
        one = Shell(day.folder, PATH=path)
        yield one
        one.close()


def sections() -> dict[str, list[str]]:
    parts = re.split(r"^## (.+)$", GUIDE, flags=re.MULTILINE)
    return {
        title: found for title, text in zip(parts[1::2], parts[2::2], strict=True) if (found := blocks(text))
    }


def applied(day: Day, name: str) -> list[str]:
    with psycopg.connect(f"{day.server}/{name}") as connection:
        return sorted(row[0] for row in connection.execute(b"SELECT name FROM django_migrations"))


def test_the_day_of_the_administrator(day: Day, shell: Shell, cluster: Cluster) -> None:
    said: dict[str, str] = {}
    for title, found in sections().items():
        if title == "Restore":
            cluster.run("createdb", "-h", str(cluster.folder), "-U", "spares", "spares_restored")
        if title == "Upgrade":
            newest = become_the_old_version(day)
            before = applied(day, "spares_restored")
        if title == "Downgrade":
            assert newest in applied(day, "spares_restored")
        said[title] = "".join(shell.type_in(day.as_here(block)) for block in found)

    assert "PRODUCTION = true" in said["Prepare the database"]
    assert "System check identified no issues" in said["Prepare the database"]
    assert re.search(
        r"^https://spares.example/account/reset/\S+/\S+/$", said["The first user and the roles"], re.M
    )
    assert said["Tokens of programs"].count("spares_") == 1
    assert "0 differences" in said["Restore"]
    assert day.count("spares_restored") == day.count("administered") > 0
    assert "rows of" in said["Move to another database"]
    noted = re.findall(r"\[X\] (\S+)", (day.folder / "backups" / "before-upgrade.txt").read_text())
    assert noted
    assert newest not in noted
    assert applied(day, "spares_restored") == before


def become_the_old_version(day: Day) -> str:
    """The database as the version before left it: without the last migration of the edges, whose name is given."""
    *_, before, newest = sorted(path.stem for path in (HOUSE / "api" / "migrations").glob("0*.py"))
    done = manage(f"{day.server}/spares_restored", "migrate", "api", before)
    assert done.returncode == 0, done.stderr
    assert newest not in applied(day, "spares_restored")
    return newest


def test_no_command_of_the_guide_is_left_out() -> None:
    assert list(sections()) == [
        "Prepare the database",
        "The first user and the roles",
        "Tokens of programs",
        "Back up",
        "Restore",
        "Move to another database",
        "Upgrade",
        "Downgrade",
    ]
