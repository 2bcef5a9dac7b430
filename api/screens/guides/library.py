"""Which guides there are, in the language of the reader, and what is found in them."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.utils.translation import get_language

from api.environment import TABLE
from api.screens.guides.written import GuidePart, GuideText, read_text

FOLDER = Path(__file__).parent
SETTINGS = "[[settings]]"
FIRST_LANGUAGE = "en"
NAMES = ("first-day", "storeroom", "fitter", "manager", "administrator", "integrator", "changes")
SHOWN = 20
AROUND = 90


@dataclass(frozen=True)
class Guide:
    name: str
    language: str
    text: GuideText


@dataclass(frozen=True)
class GuideHit:
    guide: Guide
    part: GuidePart
    excerpt: str


def guide(name: str) -> Guide:
    """In the language of the reader, or in English where it was not translated."""
    wanted = (get_language() or FIRST_LANGUAGE).partition("-")[0]
    return load(name, wanted if (FOLDER / wanted / f"{name}.md").is_file() else FIRST_LANGUAGE)


def guides() -> list[Guide]:
    return [guide(name) for name in NAMES]


@cache
def load(name: str, language: str) -> Guide:
    source = (FOLDER / language / f"{name}.md").read_text(encoding="utf-8")
    return Guide(name, language, read_text(source.replace(SETTINGS, settings_table())))


def settings_table() -> str:
    """Of the table of the code, so that none is missing. Names and meanings are those of `.env.example`."""
    rows = [
        f"| `{one.name}` | {f'`{one.default}`' if one.default else ''} | {one.meaning.replace('|', chr(92) + '|')} |"
        for one in TABLE
    ]
    return "\n".join(["| Setting | Default | Meaning |", "|---|---|---|", *rows])


def find(asked: str) -> list[GuideHit]:
    """Parts that have every word; those that have all in their heading come first."""
    words = asked.casefold().split()
    if not words:
        return []
    found = []
    for one in guides():
        for part in one.text.parts:
            title, body = part.title.casefold(), part.words.casefold()
            if all(word in title or word in body for word in words):
                missing = sum(word not in title for word in words)
                found.append((missing, GuideHit(one, part, excerpt(part.words, words))))
    return [hit for _, hit in sorted(found, key=lambda each: each[0])][:SHOWN]


def excerpt(text: str, words: list[str]) -> str:
    """The piece around the first word that is found."""
    places = [place for word in words if (place := text.casefold().find(word)) >= 0]
    middle = min(places, default=0)
    start, end = max(0, middle - AROUND), middle + AROUND
    cut = text[start:end]
    if start:
        cut = "… " + cut.partition(" ")[2]
    return cut.rpartition(" ")[0] + " …" if end < len(text) else cut
