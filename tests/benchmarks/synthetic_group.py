"""A group of plants, made up and skewed as real catalogues are, of any size, in an empty database.

    DATABASE_URL=... python -m tests.benchmarks.synthetic_group --items 1000000

Stock rows, storerooms, positions and events follow the items (2 rows, 1 event a piece, 1 position for 10, 1 storeroom for 3,333)
unless given. Chains are drawn by rank, teeth log-normally about 26, strands 78, 15 and 7 in a hundred; 5 of a hundred items are bushes,
keys, chains and links; 2 of a thousand sprockets have no pitch or no teeth. Whatever the size, the same question stands in it:
position QUESTION-1 on a chain that no other drive has, with ten candidates, twenty requests and five removals. All of it is invented.
"""

import argparse
import os
import shutil
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")

import django
import numpy as np

BYTES_OF_AN_ITEM = 3_500
"""With its stock, positions, events and indexes: three times the 1,120 measured on SQLite at 50,000 items, as PostgreSQL takes more."""

CHAINS = [
    "12B",
    "08B",
    "16B",
    "10B",
    "08A",
    "06B",
    "16A",
    "10A",
    "12A",
    "20B",
    "32B",
    "20A",
    "28B",
    "32A",
    "40A",
    "40B",
    "36A",
    "28A",
    "48A",
    "48B",
    "208B",
    "210B",
    "212B",
    "216B",
    "208A",
    "210A",
    "212A",
    "216A",
    "085",
]
QUESTION_CHAIN, QUESTION_TEETH, QUESTION_STRANDS = "56B", 23, 1
BUSHES = {"1008": 20, "1108": 22, "1210": 30, "1610": 38, "2012": 48, "2517": 58, "3020": 75}
BORES = (16, 18, 20, 22, 24, 25, 28, 30, 32, 35, 38, 40, 42, 45, 48, 50, 55, 60, 65, 70)
YEARS = 10


@dataclass(frozen=True)
class Size:
    items: int
    stock_rows: int
    storerooms: int
    positions: int
    events: int

    @property
    def plants(self) -> int:
        return max(1, self.storerooms // 7)

    @property
    def bytes_needed(self) -> int:
        return self.items * BYTES_OF_AN_ITEM


def size_of(items: int, **given: int | None) -> Size:
    """The size that follows from the items, where nothing else is given."""
    usual = {
        "stock_rows": 2 * items,
        "storerooms": max(4, items * 3 // 10_000),
        "positions": max(20, items // 10),
        "events": items,
    }
    return Size(items, **{name: given.get(name) or value for name, value in usual.items()})


def make(size: Size, seed: int = 1) -> Iterator[str]:
    """Fill the database that the settings name; gives what was written, step by step."""
    from tests.benchmarks.synthetic_catalogue import write_catalogue
    from tests.benchmarks.synthetic_plants import write_plants

    rng = np.random.default_rng(seed)
    catalogue = yield from write_catalogue(size, rng)
    yield from write_plants(size, rng, catalogue)


def refusal(size: Size) -> str | None:
    """Why the group cannot be made here."""
    from django.db import connection

    from inventory.models import Item

    if Item.objects.exists():
        return "The database holds items already: name an empty one in DATABASE_URL."
    name = str(connection.settings_dict["NAME"])
    folder = (
        Path(name).parent if connection.vendor == "sqlite" else Path(os.environ.get("DATABASE_FOLDER", "/"))
    )
    free = shutil.disk_usage(folder).free
    if size.bytes_needed > free * 0.9:
        gigabytes = size.bytes_needed / 1e9
        return f"--items {size.items} takes about {gigabytes:.1f} GB, and {free / 1e9:.1f} GB are free: name fewer."
    return None


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--items", type=int, default=1_000_000)
    for name in ("stock-rows", "storerooms", "positions", "events"):
        parser.add_argument(f"--{name}", type=int)
    parser.add_argument("--seed", type=int, default=1)
    given = vars(parser.parse_args())
    seed, items = given.pop("seed"), given.pop("items")
    if items < 500 or any(value is not None and value < 1 for value in given.values()):
        parser.error("--items is at least 500, every other number at least 1")
    django.setup()
    from django.core.management import call_command
    from django.db import transaction

    call_command("migrate", verbosity=0)
    size = size_of(items, **given)
    if why_not := refusal(size):
        parser.error(why_not)
    began = time.monotonic()
    with transaction.atomic():
        for line in make(size, seed):
            print(f"{time.monotonic() - began:8.1f} s  {line}", flush=True)


if __name__ == "__main__":
    main()
