"""Examples from the demo plant: a file of tags and numbers, of which only those in the database are shown."""

import csv
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.conf import settings
from django.urls import reverse

from drives.models import Drive, Position
from inventory.models import Item

STORIES = Path("fixtures") / "stories.csv"


@dataclass(frozen=True)
class Story:
    kind: str
    name: str
    title: str
    what_to_see: str

    @property
    def address(self) -> str:
        return reverse(f"screens:{self.kind}", args=[self.name])


@cache
def _rows() -> tuple[dict[str, str], ...]:
    try:
        with (settings.BASE_DIR / STORIES).open(encoding="utf-8", newline="") as lines:
            return tuple(csv.DictReader(lines))
    except OSError:
        return ()


def _title(story: str) -> str:
    """The name of a story as a heading, the letter of a chain as a capital."""
    words = story.replace("_", " ").capitalize()
    return re.sub(r"\b\d+[ab]\b", lambda chain: chain[0].upper(), words)


def stories_here() -> list[Story]:
    """Those whose tag or number is recorded here; at most three queries, none without the file."""
    rows = _rows()
    names = [row["tag"] or row["stock_number"] for row in rows]
    if not names:
        return []
    here: dict[str, str] = {}
    for kind, records, field in (
        ("item", Item.objects.all(), "stock_number"),
        ("drive", Drive.objects.all(), "tag"),
        ("position", Position.objects.all(), "tag"),
    ):
        found = records.filter(**{f"{field}__in": names}).values_list(field, flat=True)
        here |= dict.fromkeys(found, kind)
    return [
        Story(here[name], name, _title(row["story"]), row["what_to_see"])
        for row, name in zip(rows, names, strict=True)
        if name in here
    ]
