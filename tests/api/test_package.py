"""`pip install .`: what is installed is the whole service."""

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

from api.edge.body_limits import FILES_AT, largest_body
from tests.programs import HOUSE

PACKAGES = ("api", "drives", "fixtures", "inventory")
NOT_SHIPPED = {".pyc", ".mo"}


def test_every_file_of_the_packages_is_in_the_wheel(tmp_path: Path) -> None:
    # setuptools leaves a folder of its own beside what it builds.
    source = tmp_path / "source"
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
        str(tmp_path),
        str(source),
    ]
    subprocess.run([sys.executable, "-m", *build], check=True, timeout=120)
    (wheel,) = tmp_path.glob("*.whl")
    inside = set(zipfile.ZipFile(wheel).namelist())
    ours = {
        str(path.relative_to(HOUSE))
        for name in PACKAGES
        for path in (HOUSE / name).rglob("*")
        if path.is_file() and path.suffix not in NOT_SHIPPED
    }
    assert sorted(ours - inside) == []


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
