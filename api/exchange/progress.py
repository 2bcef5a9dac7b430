"""How far an import is: counted by whoever works, stored or shown by a thread of its own that no transaction of the work holds up."""

import json
import logging
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from django.db import DatabaseError, connection

logger = logging.getLogger(__name__)
SECONDS_BETWEEN = 2.0


@dataclass
class RowProgress:
    """Rows of the file read, checked against the records, and written; `rows` is how many there are, estimated while it is read."""

    rows: int | None = None
    read: int = 0
    checked: int = 0
    written: int = 0

    @property
    def done(self) -> int:
        """Each row is read and then checked."""
        return self.read + self.checked

    @property
    def total(self) -> int:
        return 2 * max(self.rows or 0, self.read)

    def as_json(self) -> dict[str, int | None]:
        return asdict(self)

    def summed(self) -> "RowProgress":
        return self


class JoinedProgress(RowProgress):
    """Of several sheets, one after another: the counts of all of them."""

    def __init__(self, expected: Sequence[int | None]) -> None:
        super().__init__(rows=sum(rows or 0 for rows in expected) or None)
        self.finished: list[RowProgress] = []

    def begin(self) -> RowProgress:
        """What counts the next sheet."""
        self.finished.append(RowProgress())
        return self.finished[-1]

    def summed(self) -> RowProgress:
        read, checked, written = (
            sum(getattr(one, name) for one in self.finished) for name in ("read", "checked", "written")
        )
        return RowProgress(max(self.rows or 0, read), read, checked, written)


@contextmanager
def reporting(progress: RowProgress, report: Callable[[RowProgress], None]) -> Iterator[Callable[[], None]]:
    """Report it every two seconds, in a thread of its own, while the block works; gives what ends that early."""
    done = threading.Event()
    thread = threading.Thread(target=keep_reporting, args=(progress, report, done), daemon=True)

    def stop() -> None:
        done.set()
        thread.join()

    thread.start()
    try:
        yield stop
    finally:
        stop()


def keep_reporting(
    progress: RowProgress, report: Callable[[RowProgress], None], done: threading.Event
) -> None:
    last = progress.summed().done
    try:
        while not done.wait(SECONDS_BETWEEN):
            now = progress.summed()
            if now.done != last:
                last = now.done
                report(now)
    finally:
        connection.close()


def store_if_possible(store: Callable[[RowProgress], None], run: int | str, progress: RowProgress) -> None:
    """SQLite lets nobody write beside the transaction that writes the rows: there it stands in a file until that ends."""
    try:
        wait_briefly()
        store(progress)
    except DatabaseError:
        connection.close()
        if file := file_beside_database(run):
            file.write_text(json.dumps(progress.as_json()))
        else:
            logger.info("The progress of an import could not be stored; this is tried again.")


def file_beside_database(run: int | str) -> Path | None:
    name = Path(connection.settings_dict["NAME"])
    # The name of a database in memory is that of no file.
    return (
        name.with_name(f"{name.name}-import-{run}")
        if connection.vendor == "sqlite" and name.is_file()
        else None
    )


def progress_in_file(run: int | str) -> RowProgress | None:
    file = file_beside_database(run)
    # It may be missing, or half written just now.
    with suppress(OSError, ValueError):
        return RowProgress(**json.loads(file.read_text())) if file else None
    return None


def forget_file(run: int | str) -> None:
    if file := file_beside_database(run):
        file.unlink(missing_ok=True)


def wait_briefly() -> None:
    """The work may be about to stop this thread while it holds the database of SQLite: a short wait, and the next try."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 200")
