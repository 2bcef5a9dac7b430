import doctest
import importlib
import subprocess
import sys
from pathlib import Path

import pytest

from inventory import standards
from inventory.standards.table_rows import TABLES, source_titles, table_rows

ROOT = Path(standards.__file__).parents[2]
MODULES = sorted(
    path.stem for path in Path(standards.__file__).parent.glob("*.py") if path.stem != "__init__"
)
NAMES = sorted(path.stem for path in TABLES.glob("*.csv") if path.stem != "sources")


@pytest.mark.parametrize("name", NAMES)
def test_every_row_of_a_table_names_its_source_and_confidence(name):
    for row in table_rows(name):
        assert source_titles(row["source"])
        assert row["confidence"]
        assert row["note"] is not None


def test_every_listed_source_has_a_title():
    rows = table_rows("sources")

    assert len({row["code"] for row in rows}) == len(rows)
    assert all(row["title"] for row in rows)


def test_an_unlisted_source_is_refused():
    with pytest.raises(KeyError):
        source_titles("HEARSAY")


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_the_docstrings_run(name):
    result = doctest.testmod(importlib.import_module(f"inventory.standards.{name}"))

    assert result.failed == 0


def test_the_standards_import_where_nothing_is_installed():
    lines = [f"import inventory.standards.{name}" for name in MODULES]
    lines.append("import sys; assert not any(name.split('.')[0] == 'django' for name in sys.modules)")

    made = subprocess.run(
        [
            sys.executable,
            "-I",
            "-S",
            "-c",
            f"import sys; sys.path.insert(0, {str(ROOT)!r}); " + "; ".join(lines),
        ],
        capture_output=True,
        text=True,
        check=False,
    )

    assert made.stderr == ""
    assert made.returncode == 0
