"""Words of a plant for the words of a column: in any case, in three languages, and as the trade writes them."""

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from django.utils.translation import override

from api.exchange.mapping.headings import LANGUAGES
from api.exchange.mapping.plain_words import plain
from api.exchange.mapping.units import rows_of
from api.exchange.tables import FileTable
from api.wire import cells
from api.wire.declaration import Column
from api.wording.labels import LABELS

Words = Mapping[str, str]
BLANKS = frozenset(
    {
        "-",
        "--",
        "---",
        "–",
        "—",
        "/",
        "?",
        ".",
        "n/a",
        "n.a.",
        "na",
        "k.a.",
        "k. a.",
        "keine angabe",
        "s/d",
        "#n/a",
        "#nv",
    }
)
LEADING = ("typ ", "type ", "form ", "tipo ", "bauform ", "style ")


def is_blank(text: str) -> bool:
    return not text.strip() or text.strip().casefold() in BLANKS


def allowed_words(column: Column) -> tuple[str, ...]:
    """The words that the column may hold; empty where it is none of words."""
    if column.parse is cells.boolean:
        return ("yes", "no")
    if column.name == "weekday":
        return tuple("0123456")
    if isinstance(column.parse, cells.Word | cells.Words):
        return tuple(str(word) for word in column.parse.words if word)
    return ()


def known_words(table: FileTable, column: Column) -> Words:
    allowed = allowed_words(column)
    found: dict[str, str] = {}
    for word in allowed:
        found |= dict.fromkeys((plain(word), plain(word.replace("_", " "))), word)
    for written, word in (*_written(_group(column)), *_labels(table, column)):
        if word in allowed:
            found.setdefault(plain(written), word)
    return found


def _group(column: Column) -> str:
    return "boolean" if column.parse is cells.boolean else column.name


@cache
def _written(group: str) -> tuple[tuple[str, str], ...]:
    rows = [row for row in rows_of("words") if row["column"] == group]
    return tuple((written, row["word"]) for row in rows for written in row["written"].split("|"))


def _labels(table: FileTable, column: Column) -> Iterator[tuple[str, str]]:
    fields: dict[str, Any] = {field.name: field for field in table.model._meta.concrete_fields}
    field = fields.get(column.field)
    for language in LANGUAGES:
        with override(language):
            for value, label in getattr(field, "flatchoices", ()):
                yield str(label), str(value)
            for word in allowed_words(column):
                if word in LABELS:
                    yield str(LABELS[word]), word


def word_of(text: str, words: Words) -> str | None:
    """The word of the column for a text; None where nobody has said it yet."""
    given = plain(text)
    for begin in ("", *LEADING):
        if given.startswith(begin) and (found := words.get(given.removeprefix(begin))) is not None:
            return found
    return None
