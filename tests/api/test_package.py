"""`pip install .`: what is installed is the whole service, and serves from another folder (`PROOF=long`)."""

import http.client
import json
import os
import re
import subprocess
import sys
import time
import tomllib
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from api.edge.body_limits import FILES_AT, largest_body
from tests.examples import IS_LONG
from tests.programs import HOUSE
from tests.proof.service import free_port

PACKAGES = ("api", "drives", "fixtures", "inventory")
NOT_SHIPPED = {".pyc", ".mo"}
COMMAND = (sys.executable, "-P", "-c", "from api.command_line import main; main()")
TOKEN = "watch-the-malt"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    # setuptools leaves a folder of its own beside what it builds.
    source = folder / "source"
    source.mkdir()
    for name in (*PACKAGES, "pyproject.toml", "README.md", "LICENSE"):
        (source / name).symlink_to(HOUSE / name)
    build = [
        "pip",
        "wheel",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "--no-index",
        "--wheel-dir",
        str(folder),
        str(source),
    ]
    subprocess.run([sys.executable, "-m", *build], check=True, timeout=120)
    (found,) = folder.glob("*.whl")
    return found


def test_every_file_of_the_packages_is_in_the_wheel(wheel: Path) -> None:
    inside = set(zipfile.ZipFile(wheel).namelist())
    ours = {
        str(path.relative_to(HOUSE))
        for name in PACKAGES
        for path in (HOUSE / name).rglob("*")
        if path.is_file() and path.suffix not in NOT_SHIPPED
    }
    assert sorted(ours - inside) == []


@contextmanager
def served(folder: Path, environment: dict[str, str]) -> Iterator[None]:
    with (folder / "log.txt").open("w") as log:
        server = subprocess.Popen(
            (*COMMAND, "serve"), cwd=folder, env=environment, stdout=log, stderr=log, start_new_session=True
        )
        try:
            yield
        finally:
            server.terminate()
            server.wait(30)


def asked(port: int, path: str, **headers: str) -> tuple[int, dict[str, str], bytes]:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=30)) as connection:
        connection.request("GET", path, headers={"Host": "localhost", **headers})
        answer = connection.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read()


def is_alive(port: int) -> bool:
    try:
        return asked(port, "/healthz")[0] == 200
    except OSError:
        return False


@pytest.mark.skipif(not IS_LONG, reason="PROOF=long installs the package and serves with it")
def test_the_package_serves_in_production_from_any_folder(wheel: Path, tmp_path: Path) -> None:
    package, folder, port = tmp_path / "package", tmp_path / "folder", free_port()
    folder.mkdir()
    zipfile.ZipFile(wheel).extractall(package)
    environment = {
        "PATH": os.environ["PATH"],
        "PYTHONPATH": str(package),
        "PRODUCTION": "true",
        "SECRET_KEY": "k9" * 40,
        "SSL_REDIRECT": "false",
        "DATABASE_URL": f"sqlite:///{folder / 'plant.sqlite3'}",
        "BIND": f"127.0.0.1:{port}",
        "WEB_CONCURRENCY": "3",
        "LOG_FORMAT": "json",
        "ACCESS_LOG": "true",
        "METRICS_TOKEN": TOKEN,
    }
    for words in (["check"], ["migrate", "--verbosity", "0"]):
        subprocess.run((*COMMAND, *words), cwd=folder, env=environment, check=True, timeout=300)
    with served(folder, environment):
        ends = time.monotonic() + 60
        while not is_alive(port) and time.monotonic() < ends:
            time.sleep(0.2)
        status, _, page = asked(port, "/login/")
        (style, *_) = re.findall(r'href="(/static/[^"]+\.[0-9a-f]{12}\.css)"', page.decode())
        assert status == 200
        status, headers, _ = asked(port, style, **{"Accept-Encoding": "gzip"})
        assert (status, headers["Content-Encoding"]) == (200, "gzip")
        assert "immutable" in headers["Cache-Control"]
        for _ in range(20):
            asked(port, "/login/")
        _, _, measured = asked(port, "/metrics", Authorization=f"Bearer {TOKEN}")
        counted = re.findall(r'^spares_requests_total\{.*status="2xx".*\} (\S+)$', measured.decode(), re.M)
        assert sum(map(float, counted)) == 22  # Of all three processes, whichever was asked.
        assert asked(port, f"/?q={'x' * 8_100}")[0] == 302
        assert asked(port, f"/?q={'x' * 8_200}")[0] == 414
    lines = [json.loads(line) for line in (folder / "log.txt").read_text().splitlines()]
    (one,) = (line for line in lines if style in line["message"])
    assert re.search(rf"GET {re.escape(style)} 200 \d+ bytes", one["message"])
    assert one["request_id"]


def test_the_lines_for_a_proxy_let_through_what_the_service_takes() -> None:
    lines = (HOUSE / ".deploy" / "reverse-proxy.conf").read_text()
    usual, of_files = (int(size) * 2**20 for size in re.findall(r"client_max_body_size (\d+)m;", lines))
    assert usual >= largest_body("/api/v1/items/")
    (place,) = re.findall(r"location ~ (\S+) \{\s+client_max_body_size", lines)
    assert all(re.match(place, one) and of_files >= largest_body(one) for one in FILES_AT)


def test_the_command_is_the_one_of_the_checkout() -> None:
    project = tomllib.loads((HOUSE / "pyproject.toml").read_text())["project"]
    assert project["scripts"] == {"chain-drive-spares": "api.command_line:main"}
    assert "from api.command_line import main" in (HOUSE / "manage.py").read_text()
