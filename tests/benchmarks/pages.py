"""What every page takes on the demo plant: milliseconds of CPU at best of six requests, kB, and queries.

    DATABASE_URL=... python -m tests.benchmarks.pages [--user NAME] [--only PART] [--save FOLDER]

Prints the slowest first, and fails where one takes more than 200 ms or 100 kB. `--save` keeps each page as a file, to compare before and after a change.
"""

import argparse
import os
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")

import django

MOST_MILLISECONDS, MOST_KB, TRIES = 200, 100, 6
ONCE_ONLY = re.compile(r'name="(csrfmiddlewaretoken|key)" value="[^"]*"')
"""What differs between two showings of the same page."""


@dataclass(frozen=True)
class PageCost:
    address: str
    milliseconds: float
    kb: float
    queries: int
    text: str

    @property
    def is_met(self) -> bool:
        return self.milliseconds <= MOST_MILLISECONDS and self.kb <= MOST_KB

    def __str__(self) -> str:
        mark = "" if self.is_met else "  TOO MUCH"
        return f"{self.milliseconds:7.0f} ms {self.kb:7.1f} kB {self.queries:4} queries  {self.address}{mark}"


def costs(username: str, part: str) -> Iterator[PageCost]:
    from django.contrib.auth import get_user_model
    from django.test import Client

    from drives.models import Position
    from tests.every_page import screens

    users = get_user_model().objects.filter(is_active=True)
    user = users.get(username=username) if username else users.filter(is_superuser=True).earliest("pk")
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(user)
    position = Position.objects.filter(installations__removed_at=None).order_by("pk")[0]
    number = position.installations.get(removed_at=None).item.stock_number
    for address in dict.fromkeys(screens(position.tag, number)):
        if part in address:
            yield cost_of(client, address)


def cost_of(client: "django.test.Client", address: str) -> PageCost:
    from django.db import connection

    from tests.benchmarks.lists import busy_seconds

    queries = 0

    def count_one(execute: Callable[..., Any], *asked: Any) -> Any:
        nonlocal queries
        queries += 1
        return execute(*asked)

    with connection.execute_wrapper(count_one):
        response = client.get(address)
    least = float("inf")
    for _ in range(TRIES):
        began = busy_seconds()
        client.get(address)
        least = min(least, busy_seconds() - began)
    text = ONCE_ONLY.sub("", response.content.decode())
    return PageCost(address, least * 1000, len(response.content) / 1000, queries, text)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--user", default="", help="whose pages; left out: the first administrator's")
    parser.add_argument("--only", default="", help="pages with this in their address")
    parser.add_argument("--save", type=Path, help="folder for the pages")
    asked = parser.parse_args()
    django.setup()
    found = sorted(costs(asked.user, asked.only), key=lambda one: -one.milliseconds)
    for one in found:
        print(one)
        if asked.save:
            asked.save.mkdir(parents=True, exist_ok=True)
            (asked.save / re.sub(r"\W+", "_", one.address)).write_text(one.text)
    return 0 if all(one.is_met for one in found) else 1


if __name__ == "__main__":
    raise SystemExit(main())
