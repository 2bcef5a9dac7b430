"""Other processes on the database of a test: PostgreSQL itself, of SQLite a copy in a file."""

import os
import queue
import sqlite3
import subprocess
import threading
from pathlib import Path
from urllib.parse import urlsplit

from django.db import connection

from tests.programs import Program, completed
from tests.proof.cluster import binaries


def shared_database(folder: Path) -> str:
    """DATABASE_URL under which another process finds what this one has committed."""
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        with sqlite3.connect(folder / "shared.sqlite3") as target:
            connection.connection.backup(target)
        return f"sqlite:///{folder / 'shared.sqlite3'}"
    name = connection.settings_dict["NAME"]
    return urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{name}").geturl()


def dumped(url: str, file: Path) -> Path | None:
    """All of a PostgreSQL database as SQL."""
    programs = binaries()
    if programs is None:
        return None
    done = subprocess.run([programs / "pg_dump", "-d", url, "-f", file], check=False, capture_output=True)
    return file if done.returncode == 0 else None


def surroundings(url: str, **more: str) -> dict[str, str]:
    return {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "api.settings", **more}


def manage(url: str, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run `manage.py` to its end."""
    return completed(("manage.py", *words), surroundings(url, **more), timeout=120)


def begin(url: str, *words: str, **more: str) -> Program:
    """Begin a Python process and do not wait for it."""
    return Program(words, surroundings(url, **more))


class Listening:
    """What a process says, line by line, without waiting for ever."""

    def __init__(self, process: Program) -> None:
        self.lines: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self.read, args=(process,), daemon=True).start()

    def read(self, process: Program) -> None:
        for line in process.stdout:
            self.lines.put(line.strip())

    def line(self, seconds: float = 30) -> str | None:
        """The next line, or None where nothing is said in time."""
        try:
            return self.lines.get(timeout=seconds)
        except queue.Empty:
            return None
