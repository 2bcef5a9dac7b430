"""Programs of the house, each in a process of its own that has the libraries in memory when it begins.

Most of the time in which a Python process of the service starts goes into the libraries. They are loaded once; every
program is forked from there and sets up the service itself, from its own environment.
"""

import os
import runpy
import subprocess
import sys
import threading
from contextlib import suppress
from io import TextIOWrapper
from multiprocessing import get_context, set_forkserver_preload
from multiprocessing.connection import Connection
from pathlib import Path

HOUSE = Path(__file__).resolve().parents[1]
LIBRARIES = [
    *("numpy", "scipy.linalg", "scipy.optimize", "scipy.special"),
    *("openpyxl", "psycopg", "requests", "rapidfuzz.fuzz", "gunicorn.app.wsgiapp"),
    *("django.core.management", "django.core.handlers.wsgi", "django.contrib.postgres.fields"),
    *("rest_framework.serializers", "django_filters.rest_framework"),
]
"""None of them reads the settings when it is imported."""

FORKED = get_context("forkserver")
set_forkserver_preload(LIBRARIES)


class Program:
    """`python WORDS...` in the folder of the house, with the methods of `subprocess.Popen` that tests use."""

    def __init__(
        self, words: tuple[str, ...], surroundings: dict[str, str], *, is_heard: bool = True
    ) -> None:
        pipes = [FORKED.Pipe(duplex=False) for _ in range(2)] if is_heard else []
        ends = [end for _, end in pipes]
        self.process = FORKED.Process(target=become, args=(words, surroundings, ends))
        self.process.start()
        for end in ends:
            end.close()
        self.heard = [reader(start) for start, _ in pipes]
        self.pid = self.process.pid or 0

    @property
    def stdout(self) -> TextIOWrapper:
        return self.heard[0]

    @property
    def returncode(self) -> int | None:
        return self.process.exitcode

    def poll(self) -> int | None:
        return self.process.exitcode

    def wait(self, timeout: float | None = None) -> int:
        self.process.join(timeout)
        if self.returncode is None:
            raise subprocess.TimeoutExpired(self.process.name, timeout or 0)
        return self.returncode

    def kill(self) -> None:
        self.process.kill()

    def terminate(self) -> None:
        self.process.terminate()

    def communicate(self, timeout: float | None = None) -> tuple[str, str]:
        """What it says to its end on its two channels."""
        said = ["", ""]

        def listen(channel: int) -> None:
            with suppress(ValueError):
                said[channel] = self.heard[channel].read()

        listeners = [threading.Thread(target=listen, args=(channel,), daemon=True) for channel in range(2)]
        for one in listeners:
            one.start()
        try:
            self.wait(timeout)
        except subprocess.TimeoutExpired:
            self.kill()
            raise
        for one in listeners:
            one.join(timeout)
        return said[0], said[1]


def reader(start: Connection) -> TextIOWrapper:
    with start:
        return os.fdopen(os.dup(start.fileno()), encoding="utf-8", newline=None)


def completed(
    words: tuple[str, ...], surroundings: dict[str, str], timeout: float
) -> subprocess.CompletedProcess[str]:
    """Run it to its end."""
    program = Program(words, surroundings)
    said, errors = program.communicate(timeout)
    return subprocess.CompletedProcess(words, program.wait(), said, errors)


def become(words: tuple[str, ...], surroundings: dict[str, str], ends: list[Connection]) -> None:
    """Turn this process, a fork with nothing but libraries in it, into the program."""
    os.setsid()
    for channel, end in enumerate(ends, start=1):
        os.dup2(end.fileno(), channel)
        end.close()
    os.environ.clear()
    os.environ.update(surroundings)
    os.chdir(HOUSE)
    sys.path.insert(0, str(HOUSE))
    way, *rest = words
    if way == "-c":
        code, *rest = rest
        sys.argv = ["-c", *rest]
        exec(compile(code, "<string>", "exec"), {"__name__": "__main__"})
    elif way == "-m":
        module, *rest = rest
        sys.argv = [module, *rest]
        runpy.run_module(module, run_name="__main__", alter_sys=True)
    else:
        sys.argv = [way, *rest]
        runpy.run_path(way, run_name="__main__")
