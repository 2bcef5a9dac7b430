"""Databases for the service in processes of its own: each test gets a copy of one that was prepared once."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.db import connection

from tests.proof.cluster import Cluster, binaries
from tests.proof.service import program


@dataclass(frozen=True)
class Prepared:
    """`copy` gives the address of a database of its own; the token is a manager's, the session a storekeeper's."""

    session: str
    token: str
    copy: Callable[[str], str]


def prepare(url: str) -> tuple[str, str]:
    """The session and the token that it prints."""
    done = program(url, "-m", "tests.proof.prepare")
    assert done.returncode == 0, done.stderr
    session, token = done.stdout.split()[-2:]
    return session, token


@pytest.fixture(scope="session")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    programs = binaries()
    if programs is None:
        pytest.skip("there are no PostgreSQL binaries on this machine")
    # Sockets have short names.
    folder = Path("/tmp") / tmp_path_factory.mktemp("pg").name.replace("pg", f"proof-{id(programs)}-")
    folder.mkdir()
    own = Cluster(folder, programs)
    own.start()
    yield own
    own.stop()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def prepared(
    request: pytest.FixtureRequest, django_db_setup: Path | None, tmp_path_factory: pytest.TempPathFactory
) -> Prepared:
    if connection.vendor == "postgresql":
        server: Cluster = request.getfixturevalue("cluster")
        server.run("createdb", "-h", str(server.folder), "-U", "spares", "prepared")
        if django_db_setup is not None:
            server.load("prepared", django_db_setup)
        given = prepare(server.url("prepared"))
        return Prepared(*given, lambda name: server.copy(name, "prepared"))
    folder = tmp_path_factory.mktemp("prepared")
    shutil.copy(request.getfixturevalue("migrated_file"), folder / "prepared.sqlite3")
    given = prepare(f"sqlite:///{folder}/prepared.sqlite3")

    def copy(name: str) -> str:
        for suffix in ("", "-wal"):
            source = folder / f"prepared.sqlite3{suffix}"
            if source.exists():
                shutil.copy(source, folder / f"{name}.sqlite3{suffix}")
        return f"sqlite:///{folder}/{name}.sqlite3"

    return Prepared(*given, copy)
