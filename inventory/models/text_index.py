"""Text found by any part of it, and names however they are spaced: indexes that the database keeps by itself.

The normal form of a text is its letters and digits in lower case. A `TextIndex` holds the trigrams of the normal form of some
columns: in a full-text table with triggers on SQLite, in a GIN index on PostgreSQL. It tells which rows may contain a text;
whether they do is for the query to check.
"""

import json
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import connection, connections, models, router
from django.db.models import F, Func, Q, Transform
from django.db.models.expressions import RawSQL
from django.db.models.lookups import Contains

SEPARATORS = " -_./\\,:;()+#*'\"&=–×"
"""Dropped from the normal form. The parser of SQLite nests few more calls than this."""
FIELD_END = 31
"""Stands between the columns while separators are dropped; a space in the text that is indexed."""
LONGEST_WORD = 60
SHORTEST_SURE = 2
"""A shorter text is in too many rows for an index to help."""
NEXT_LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789äåæçèéêíñóöøúü "
WORDS = "inventory_word"
"""Every word of the columns of an index that keeps words: what a mistyped one can have meant."""
_DROPPED = {ord(mark): None for mark in SEPARATORS}
_DROPPED_IN_WORDS = {mark: None for mark in _DROPPED if mark != ord(" ")}


def normal(text: str) -> str:
    """A letter with its accent beside it is the letter that holds it (Unicode form NFC)."""
    text = text if text.isascii() else unicodedata.normalize("NFC", text)
    return text.lower().replace("ß", "ss").translate(_DROPPED)


def normal_forms(text: str) -> list[str]:
    """The forms in which the database may hold it: SQLite brings only the letters of ASCII into lower case."""
    found = normal(text)
    if found.isascii() or connection.vendor == "postgresql":
        return [found]
    capitals = "".join(one if one.isascii() or len(one.upper()) > 1 else one.upper() for one in found)
    return [found, capitals] if capitals != found else [found]


def normal_words(text: str) -> list[str]:
    """The normal form of each word, the text gone through once."""
    return text.lower().replace("ß", "ss").translate(_DROPPED_IN_WORDS).split()


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def normal_sql(vendor: str, value: str) -> str:
    found = f"replace(lower({value}), 'ß', 'ss')"
    if vendor == "postgresql":
        return f"translate({found}, {_quoted(SEPARATORS)}, '')"
    for mark in SEPARATORS:
        found = f"replace({found}, {_quoted(mark)}, '')"
    return found


def text_sql(vendor: str, columns: Sequence[str]) -> str:
    """The normal forms of the columns, each with a space before and behind it."""
    mark = f"chr({FIELD_END})" if vendor == "postgresql" else f"char({FIELD_END})"
    joined = f" || {mark} || ".join(columns)
    return f"replace({normal_sql(vendor, f'{mark} || {joined} || {mark}')}, {mark}, ' ')"


class NormalForm(Transform):
    """`tag__normal`: the normal form of a column, compared letter by letter. An index on it finds names and their starts."""

    lookup_name = "normal"
    output_field = models.CharField()

    def as_sql(self, compiler: Any, connection: Any, **extra: Any) -> Any:  # type: ignore[override]
        sql, params = compiler.compile(self.lhs)
        found = normal_sql(connection.vendor, sql)
        return (f'({found} COLLATE "C")' if connection.vendor == "postgresql" else found), params


class TextOf(Func):
    """The text of a `TextIndex` of these columns."""

    output_field = models.TextField()

    def as_sql(self, compiler: Any, connection: Any, **extra: Any) -> Any:  # type: ignore[override]
        parts = [compiler.compile(column) for column in self.get_source_expressions()]
        sql = text_sql(connection.vendor, [sql for sql, _ in parts])
        return sql, tuple(param for _, params in parts for param in params)


models.CharField.register_lookup(NormalForm)


class TextIndex(models.Index):
    """Of some columns, for searches of any part of them."""

    suffix = "txt"

    def __init__(self, *, fields: Sequence[str], name: str, keeps_words: bool = False) -> None:
        self.keeps_words = keeps_words
        super().__init__(fields=list(fields), name=name)

    def deconstruct(self) -> Any:
        path, expressions, kwargs = super().deconstruct()
        return path, expressions, kwargs | ({"keeps_words": True} if self.keeps_words else {})

    def containing(self, words: Iterable[Sequence[str]], most: int) -> Q | None:
        """Rows that may have each word, in one of its normal forms, or `most` of them; None where the words are too short to tell."""
        sure = [forms for forms in words if all(len(form) >= SHORTEST_SURE for form in forms)]
        if not sure:
            return None
        wanted = [[form + letter for form in forms for letter in _letters_after(form)] for forms in sure]
        if connection.vendor == "postgresql":
            text = TextOf(*(F(name) for name in self.fields))
            return Q(*(Q(*(Q(Contains(text, one)) for one in forms), _connector=Q.OR) for forms in wanted))
        asked = " AND ".join(f"({' OR '.join(map(_trigrams, forms))})" for forms in wanted)
        rows = f'SELECT rowid FROM "{self.name}" WHERE "{self.name}" MATCH %s LIMIT {most}'
        return Q(pk__in=RawSQL(rows, [asked]))

    def create_sql(self, model: Any, schema_editor: Any, using: str = "", **kwargs: Any) -> Any:
        columns = [schema_editor.quote_name(model._meta.get_field(name).column) for name in self.fields]
        table = schema_editor.quote_name(model._meta.db_table.removeprefix("new__"))
        if self.keeps_words:
            rowless = "WITHOUT ROWID" if schema_editor.connection.vendor == "sqlite" else ""
            made = f"CREATE TABLE IF NOT EXISTS {WORDS} (word varchar(60) NOT NULL PRIMARY KEY) {rowless}"
            schema_editor.execute(made, None)
        if schema_editor.connection.vendor == "postgresql":
            if self.keeps_words:
                schema_editor.deferred_sql.extend(_words_on_postgresql(self.name, table, columns))
            text = text_sql("postgresql", columns)
            return f'CREATE INDEX "{self.name}" ON {table} USING gin (({text}) gin_trgm_ops)'
        # SQLite rebuilds a table to alter it, and its triggers go with the old one: what is deferred runs on the new one.
        schema_editor.deferred_sql.extend(self._triggers(table, columns))
        made = (
            f'CREATE VIRTUAL TABLE IF NOT EXISTS "{self.name}" USING '
            "fts5(text, content='', columnsize=0, detail=none, tokenize='trigram')"
        )
        schema_editor.execute(made, None)
        return made

    def _triggers(self, table: str, columns: list[str]) -> list[str]:
        """And the rows there are: written again, as the index may have been made before."""
        new, old = (text_sql("sqlite", [f"{row}.{one}" for one in columns]) for row in ("NEW", "OLD"))
        insert = f'INSERT INTO "{self.name}"(rowid, text) VALUES (NEW.id, {new});'
        delete = f'INSERT INTO "{self.name}"("{self.name}", rowid, text) VALUES (\'delete\', OLD.id, {old});'
        words = _words_on_sqlite("", [f"NEW.{one}" for one in columns]) + ";" if self.keeps_words else ""
        changed = " OR ".join(f"NEW.{one} IS NOT OLD.{one}" for one in columns)
        filled = (
            f'INSERT INTO "{self.name}"(rowid, text) SELECT id, {text_sql("sqlite", columns)} FROM {table}'
        )
        return [
            f'CREATE TRIGGER "{self.name}_insert" AFTER INSERT ON {table} BEGIN {insert} {words} END',
            f'CREATE TRIGGER "{self.name}_delete" AFTER DELETE ON {table} BEGIN {delete} END',
            f'CREATE TRIGGER "{self.name}_update" AFTER UPDATE OF {", ".join(columns)} ON {table} WHEN {changed} '
            f"BEGIN {delete} {insert} {words} END",
            f'INSERT INTO "{self.name}"("{self.name}") VALUES (\'delete-all\')',
            filled,
            *([_words_on_sqlite(f"{table}, ", columns)] if self.keeps_words else []),
        ]

    def remove_sql(self, model: Any, schema_editor: Any, **kwargs: Any) -> Any:
        if schema_editor.connection.vendor == "postgresql":
            if self.keeps_words:
                schema_editor.execute(f'DROP FUNCTION IF EXISTS "{self.name}_words" CASCADE', None)
            return super().remove_sql(model, schema_editor, **kwargs)
        for act in ("insert", "delete", "update"):
            schema_editor.execute(f'DROP TRIGGER IF EXISTS "{self.name}_{act}"', None)
        return f'DROP TABLE IF EXISTS "{self.name}"'


def text_index_of(model: type[models.Model]) -> TextIndex | None:
    return next((one for one in model._meta.indexes if isinstance(one, TextIndex)), None)


def among(path: str, values: Sequence[Any]) -> Q:
    """Rows whose column has one of many values. SQLite scans the table for a long list that it sees, not for one that it reads."""
    if connection.vendor != "sqlite" or not values:
        return Q(**{f"{path}__in": values})
    return Q(**{f"{path}__in": RawSQL("SELECT value FROM json_each(%s)", [json.dumps(values)])})


def has_normal_form(model: Any, path: str) -> bool:
    """Whether an index finds the normal form of this column, or of the column of a record that is referred to."""
    place, _, name = path.rpartition("__")
    owner = model._meta.get_field(place).related_model if place else model
    return any(one.expressions == (NormalForm(name),) for one in owner._meta.indexes)


def known_words(words: Sequence[str], model: type[models.Model]) -> list[str]:
    """Those of them that stand in an index that keeps words, from where the model is read."""
    if not words:
        return []
    marks = ", ".join(["%s"] * len(words))
    with connections[router.db_for_read(model)].cursor() as cursor:
        cursor.execute(f"SELECT word FROM {WORDS} WHERE word IN ({marks}) ORDER BY word", list(words))
        return [word for (word,) in cursor.fetchall()]


def _letters_after(text: str) -> str | tuple[str]:
    """A text of two letters is looked for as the trigrams that begin with it."""
    return NEXT_LETTERS if len(text) == SHORTEST_SURE else ("",)


def _trigrams(text: str) -> str:
    parts = sorted({text[at : at + 3] for at in range(len(text) - 2)})
    return "(" + " AND ".join('"' + part.replace('"', '""') + '"' for part in parts) + ")"


def _words_on_sqlite(source: str, columns: Sequence[str]) -> str:
    parts = f"json_each('[' || replace(json_quote({_in_a_row(columns)}), ' ', '\",\"') || ']')"
    return (
        f"INSERT OR IGNORE INTO {WORDS}(word) SELECT DISTINCT word FROM "
        f"(SELECT {normal_sql('sqlite', 'value')} AS word FROM {source}{parts}) AS found WHERE {_is_new()}"
    )


def _words_on_postgresql(name: str, table: str, columns: Sequence[str]) -> list[str]:
    """Once a statement and in one order, so that two writers of the same words do not wait for each other in a circle."""

    def insert(source: str) -> str:
        parts = f"regexp_split_to_table({_in_a_row(columns)}, ' +') AS part"
        return (
            f"INSERT INTO {WORDS}(word) SELECT DISTINCT word FROM "
            f"(SELECT {normal_sql('postgresql', 'part')} AS word FROM {source}, {parts}) AS found "
            f"WHERE {_is_new()} ORDER BY word ON CONFLICT DO NOTHING"
        )

    function = (
        f'CREATE OR REPLACE FUNCTION "{name}_words"() RETURNS trigger LANGUAGE plpgsql AS $$ '
        f"BEGIN {insert('fresh')}; RETURN NULL; END $$"
    )
    triggers = [
        f'CREATE TRIGGER "{name}_words_{act}" AFTER {act} ON {table} REFERENCING NEW TABLE AS fresh '
        f'FOR EACH STATEMENT EXECUTE FUNCTION "{name}_words"()'
        for act in ("INSERT", "UPDATE")
    ]
    return [function, *triggers, insert(table)]


def _in_a_row(columns: Sequence[str]) -> str:
    return " || ' ' || ".join(columns)


def _is_new() -> str:
    return (
        f"length(word) BETWEEN 3 AND {LONGEST_WORD} "
        f"AND NOT EXISTS (SELECT 1 FROM {WORDS} AS kept WHERE kept.word = found.word)"
    )
