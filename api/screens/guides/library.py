"""Which guides there are, in the language of the reader, and what is found in them."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import get_language, gettext

from api.environment import TABLE
from api.models import Role
from api.screens.guides.finding import find_texts, folded, words_of
from api.screens.guides.written import GuidePart, GuideText, read_text

FOLDER = Path(__file__).parent
FIRST_HOUR = "first-hour"
"""A part of the contract, which has pages of its own; the box finds it too."""
ROLES = "roles"
"""A page that is read from the service, and no written guide; the box finds it too."""
PAGES = {FIRST_HOUR: "guide", ROLES: "screens:roles_help"}
SETTINGS = "[[settings]]"
FIRST_LANGUAGE = "en"
NAMES = ("first-day", "storeroom", "fitter", "manager", "administrator", "integrator", "changes")
SHOWN = 10
AROUND = 90


@dataclass(frozen=True)
class Guide:
    name: str
    language: str
    text: GuideText

    @property
    def address(self) -> str:
        page = PAGES.get(self.name)
        return reverse(page) if page else reverse("screens:guide", args=[self.name])


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


@cache
def first_hour() -> Guide:
    source = FOLDER.parents[1] / "edge" / "first_hour.md"
    return Guide(FIRST_HOUR, FIRST_LANGUAGE, read_text(source.read_text(encoding="utf-8")))


def role_page() -> Guide:
    title = gettext("What each role may do")
    acts = gettext(
        "Who may do what: read, book, count, fit, approve, decide, import, give rights and permissions."
    )
    words = f"{acts} {', '.join(str(role.label) for role in Role)}"
    part = GuidePart("content", title, SafeString(""), words, asked=acts)
    return Guide(ROLES, get_language() or FIRST_LANGUAGE, GuideText(gettext("Help"), SafeString(""), (part,)))


def settings_table() -> str:
    """Of the table of the code, so that none is missing. Names and meanings are those of `.env.example`."""
    rows = [
        f"| `{one.name}` | {f'`{one.default}`' if one.default else ''} | {one.meaning.replace('|', chr(92) + '|')} |"
        for one in TABLE
    ]
    return "\n".join(["| Setting | Default | Meaning |", "|---|---|---|", *rows])


def find(asked: str) -> tuple[list[GuideHit], bool]:
    """The parts that answer, the best first, and whether they have every word."""
    parts = [(one, part) for one in (*guides(), first_hour(), role_page()) for part in one.text.parts]
    # Who asks for a guide by its name finds its beginning.
    titles = [
        f"{one.text.title} {part.title}" if part is one.text.parts[0] else part.title for one, part in parts
    ]
    called = [f"{title} {part.asked}" for title, (_, part) in zip(titles, parts, strict=True)]
    found = find_texts(asked, [(title, part.words) for title, (_, part) in zip(called, parts, strict=True)])
    words = words_of(asked)
    hits = [GuideHit(*parts[place], excerpt(parts[place][1].words, words)) for place in found.places[:SHOWN]]
    return hits, found.have_every_word


def excerpt(text: str, words: set[str]) -> str:
    """The piece around the longest word that is found."""
    places = [place for word in sorted(words, key=len) if (place := folded(text).find(word)) >= 0]
    middle = places[-1] if places else 0
    start, end = max(0, middle - AROUND), middle + AROUND
    cut = text[start:end]
    if start:
        cut = "… " + cut.partition(" ")[2]
    return cut.rpartition(" ")[0] + " …" if end < len(text) else cut
