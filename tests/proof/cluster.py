"""A PostgreSQL of the test's own that may be stopped in the middle; `.ci/postgres` in few words."""

import os
import shutil
import subprocess
from pathlib import Path

import psycopg

OPTIONS = "-c listen_addresses='' -c fsync=off -c jit=off -c max_connections=100"
"""Not synced to the disk, which outlives the server; every commit is written out before it is acknowledged."""


def binaries() -> Path | None:
    servers = Path("/usr/lib/postgresql").glob("*/bin/initdb")
    return max((found.parent for found in servers), key=lambda folder: int(folder.parent.name), default=None)


class Cluster:
    def __init__(self, folder: Path, programs: Path, primary: "Cluster | None" = None) -> None:
        """A new server, or a streaming replica of the primary."""
        self.folder, self.programs = folder, programs
        self.as_owner: list[str] = []
        folder.chmod(0o755)
        if os.getuid() == 0:
            self.give_away()
        data = ["-D", f"{folder}/cluster", "-U", "spares"]
        if primary is None:
            self.run("initdb", *data, "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8")
        else:
            self.run("pg_basebackup", *data, "-h", str(primary.folder), "-R", "-X", "stream", "-c", "fast")

    def give_away(self) -> None:
        """PostgreSQL refuses to run as root."""
        if subprocess.run(["id", "postgres"], capture_output=True, check=False).returncode:
            subprocess.run(["useradd", "--system", "--no-create-home", "postgres"], check=True)
        shutil.chown(self.folder, "postgres")
        self.as_owner = ["runuser", "-u", "postgres", "--"]

    def run(self, name: str, *words: str) -> None:
        command = [*self.as_owner, str(self.programs / name), *words]
        subprocess.run(
            command, cwd=self.folder, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def start(self) -> None:
        options = f"-k {self.folder} {OPTIONS}"
        self.run(
            "pg_ctl", "-D", f"{self.folder}/cluster", "-w", "-l", f"{self.folder}/log", "-o", options, "start"
        )

    def stop(self, mode: str = "immediate") -> None:
        self.run("pg_ctl", "-D", f"{self.folder}/cluster", "-m", mode, "-w", "stop")

    def promote(self) -> None:
        self.run("pg_ctl", "-D", f"{self.folder}/cluster", "-w", "promote")

    def url(self, name: str = "postgres") -> str:
        return f"postgresql://spares@/{name}?host={self.folder}"

    def load(self, name: str, dump: Path) -> None:
        """Carry out a file of SQL in a database, as the user of the tests, who may read it."""
        psql = [self.programs / "psql", "-q", "-v", "ON_ERROR_STOP=1", "-d", self.url(name), "-f", dump]
        subprocess.run(psql, check=True, capture_output=True)

    def copy(self, name: str, template: str) -> str:
        with psycopg.connect(self.url(), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
            # A copied sequence is not logged again before the next checkpoint: stopped at once before it, PostgreSQL 15
            # comes back with the numbers of the template and gives them out twice. No plant runs on such a copy.
            connection.execute("CHECKPOINT")
        return self.url(name)
