"""The guide of the first day: what it commands is carried out from the page, with four untidy spreadsheets."""

import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from api.screens.guides.library import FOLDER
from tests.examples import IS_LONG
from tests.proof.typed_commands import Shell, blocks, installed_command
from tests.untidy_plant import DRIVES, FILES, ITEMS

pytestmark = [pytest.mark.sqlite, pytest.mark.skipif(not IS_LONG, reason="PROOF=long types what it commands")]
ANSWERS = {
    "missing:tag": "{Drive No}-{side}",
    "missing:strands": "1",
    "word:material:Stahl C45": "carbon_steel",
    "missing:position": "{Drive}-DRIVER",
}


def test_the_day_of_the_engineer(
    tmp_path: Path, migrated_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("DATABASE_URL", "PRODUCTION", "SECRET_KEY", "ENV_FILE"):
        monkeypatch.delenv(name, raising=False)
    shutil.copy(migrated_file, tmp_path / "plant.sqlite3")
    (tmp_path / "lists").mkdir()
    for name, make in FILES.items():
        (tmp_path / "lists" / name).write_bytes(make())
    (tmp_path / "answers.json").write_text(json.dumps(ANSWERS), encoding="utf-8")
    guide = (FOLDER / "en" / "first-day.md").read_text(encoding="utf-8")

    with installed_command(tmp_path) as programs:
        shell = Shell(
            tmp_path, PATH=f"{programs}:/usr/bin:/bin", DATABASE_URL=f"sqlite:///{tmp_path}/plant.sqlite3"
        )
        said = [shell.type_in(block.replace("/srv/spares", str(tmp_path))) for block in blocks(guide)]
        shell.close()

    init, templates, imported = said
    assert "/account/reset/" in init
    assert "templates were written" in templates
    assert "This was a dry run: nothing was written, and nothing is wrong." in imported
    assert "All of it was written." in imported
    with sqlite3.connect(tmp_path / "plant.sqlite3") as plant:
        counts = [
            plant.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
            for name in ("inventory_item", "drives_drive", "drives_position", "inventory_stockentry")
        ]
    assert counts == [ITEMS, DRIVES, 2 * DRIVES, 300]
