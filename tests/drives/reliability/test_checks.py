"""Every published row is compared by a test that names it."""

from pathlib import Path

from tests.drives.reliability.checks_reader import ROWS

HERE = Path(__file__).parent
BY_PREFIX = ("E_chi_", "F_unit")


def test_every_published_row_is_checked_and_names_its_source():
    tests = "".join(file.read_text(encoding="utf-8") for file in HERE.glob("test_*.py"))
    missing = [
        row["id"] for row in ROWS if f'"{row["id"]}"' not in tests and not row["id"].startswith(BY_PREFIX)
    ]
    assert missing == []
    assert all(row["source"] for row in ROWS)
    assert all(f'named("{prefix}")' in tests for prefix in BY_PREFIX)
