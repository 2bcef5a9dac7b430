"""The lines that the server writes of requests. With ACCESS_LOG=true: tests/api/test_package.py."""

import subprocess
import sys
import time
from http.client import HTTPConnection
from pathlib import Path

from tests.programs import HOUSE
from tests.proof.service import STARTS_WITHIN_SECONDS, free_port, surroundings


def answered(port: int) -> int:
    connection = HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        connection.request("GET", "/healthz")
        return connection.getresponse().status
    except OSError:
        return 0
    finally:
        connection.close()


def log_of_one_request(folder: Path) -> str:
    port, log = free_port(), folder / "log.txt"
    url = f"sqlite:///{folder / 'none.sqlite3'}"
    given = surroundings(url, BIND=f"127.0.0.1:{port}", WEB_CONCURRENCY="1", LOG_LEVEL="WARNING")
    with log.open("w") as written:
        command = [sys.executable, "manage.py", "serve"]
        server = subprocess.Popen(command, cwd=HOUSE, env=given, stdout=written, stderr=written)
        try:
            ends = time.monotonic() + STARTS_WITHIN_SECONDS
            while (status := answered(port)) != 200 and time.monotonic() < ends:
                time.sleep(0.2)
        finally:
            server.terminate()
            server.wait(30)
    assert status == 200, log.read_text()
    return log.read_text()


def test_requests_are_logged_for_nobody_who_did_not_ask_for_it(tmp_path: Path) -> None:
    said = log_of_one_request(tmp_path)
    assert "Listening at" in said
    assert "GET /healthz" not in said
