"""Commands of a guide, typed into a shell: what is called `chain-drive-spares` there is the program of this checkout."""

import json
import os
import re
import socketserver
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.programs import completed

CLIENT = f"""#!{sys.executable} -IS
import json, os, socket, sys
with socket.socket(socket.AF_UNIX) as asked:
    asked.connect({{address!r}})
    asked.sendall(json.dumps([sys.argv[1:], dict(os.environ)]).encode() + b"\\n")
    status, said, errors = json.loads(asked.makefile().read())
sys.stdout.write(said)
sys.stderr.write(errors)
sys.exit(status)
"""
"""Starts in a hundredth of the time of Django; the program itself is forked where its libraries are loaded."""

END = "the end of the block"


class Handler(socketserver.StreamRequestHandler):
    def handle(self) -> None:
        words, surroundings = json.loads(self.rfile.readline())
        done = completed(("manage.py", *words), surroundings, timeout=120)
        self.wfile.write(json.dumps([done.returncode, done.stdout, done.stderr]).encode())


@contextmanager
def installed_command(folder: Path) -> Iterator[Path]:
    """A folder for PATH with the console command in it."""
    address = folder / "asked"
    program = folder / "bin" / "chain-drive-spares"
    program.parent.mkdir()
    program.write_text(CLIENT.format(address=str(address)), encoding="utf-8")
    program.chmod(0o755)
    with socketserver.UnixStreamServer(str(address), Handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield program.parent
        server.shutdown()


def blocks(text: str) -> list[str]:
    return re.findall(r"^```sh\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)


class Shell:
    """One session of `sh`: what a block sets, the next one has. It ends with the first command that fails."""

    def __init__(self, folder: Path, **surroundings: str) -> None:
        self.process = subprocess.Popen(
            ["sh", "-eu"],
            cwd=folder,
            env={**os.environ, **surroundings},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def type_in(self, block: str) -> str:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(f"{block}\necho {END}\n")
        self.process.stdin.flush()
        said = ""
        for line in self.process.stdout:
            if line.strip() == END:
                return said
            said += line
        raise AssertionError(f"{block}\n{said}")

    def close(self) -> None:
        self.process.communicate(timeout=10)
