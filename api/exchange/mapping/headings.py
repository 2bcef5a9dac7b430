"""Which column of a kind a heading means: by the name of the column, its words in three languages, and the words of the trade."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from django.utils.translation import gettext, override

from api.exchange.mapping.plain_words import plain
from api.exchange.mapping.units import WrittenUnit, rows_of, unit_in_heading
from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.tables import TABLES, FileTable

LANGUAGES = ("en", "de", "es")
UNIT_SUFFIXES = ("mm", "kw", "rpm", "kg", "c")


class ProposalBasis(StrEnum):
    """Why a column is proposed for a heading."""

    ANSWERED = "answered"
    NAME = "name"
    TRADE = "trade"
    PART = "part"
    NONE = "none"


@dataclass(frozen=True)
class Proposal:
    """`column` is empty where the heading is left out; `candidates` are columns that it could mean as well."""

    heading: str
    column: str
    basis: ProposalBasis
    candidates: tuple[str, ...] = ()
    unit: WrittenUnit | None = None

    @property
    def is_open(self) -> bool:
        return len(self.candidates) > 0


Index = Mapping[str, frozenset[str]]


def index_of(table: FileTable) -> tuple[Index, Index]:
    """The columns by plain text: of their own names, and of the words of the trade."""
    return _index(table.kind, tuple((column.name, column.field) for column in table.every_column), table)


_KEPT: dict[str, tuple[Index, Index]] = {}


def _index(kind: str, columns: Sequence[tuple[str, str]], table: FileTable) -> tuple[Index, Index]:
    if kind not in _KEPT:
        _KEPT[kind] = own_names(table), trade_names(kind, {name for name, _ in columns})
    return _KEPT[kind]


def own_names(table: FileTable) -> Index:
    found: dict[str, set[str]] = defaultdict(set)
    fields = {field.name: field for field in table.model._meta.concrete_fields}
    for column in table.every_column:
        names = {column.name}
        bare, _, unit = column.name.rpartition("_")
        if unit in UNIT_SUFFIXES:
            names.add(bare)
        field = fields.get(column.field)
        for language in LANGUAGES:
            with override(language):
                names.add(gettext(column.name.replace("_", " ")))
                if field is not None:
                    names.add(str(field.verbose_name))
        for name in names:
            found[plain(name)].add(column.name)
    return {text: frozenset(columns) for text, columns in found.items()}


def trade_names(kind: str, columns: set[str]) -> Index:
    found: dict[str, set[str]] = defaultdict(set)
    for row in rows_of("headings"):
        if kind in row["kinds"].split("|") and row["column"] in columns:
            for written in row["written"].split("|"):
                found[plain(written)].add(row["column"])
    return {text: frozenset(names) for text, names in found.items()}


def is_heading_of(table: FileTable, text: str) -> bool:
    own, trade = index_of(table)
    bare, _ = unit_in_heading(text)
    return bool({plain(text), plain(bare)} & (own.keys() | trade.keys()))


def means(kind: str, heading: str, column: str) -> bool:
    """Whether a heading is a name of that column of another kind."""
    own, trade = index_of({**TABLES, **MESSAGE_TABLES}[kind])
    bare, _ = unit_in_heading(heading)
    return any(column in index.get(plain(text), ()) for index in (own, trade) for text in (heading, bare))


def propose(table: FileTable, headings: Iterable[str], answers: Mapping[str, str]) -> list[Proposal]:
    """One proposal for each heading; where two headings mean one column, both are open."""
    found = [proposal_of(table, heading, answers.get(f"heading:{heading}")) for heading in headings]
    claims: dict[str, list[Proposal]] = defaultdict(list)
    for one in found:
        if one.column:
            claims[one.column].append(one)
    return [
        contested(one) if one.basis != ProposalBasis.ANSWERED and len(claims.get(one.column, ())) > 1 else one
        for one in found
    ]


def contested(one: Proposal) -> Proposal:
    return Proposal(one.heading, "", ProposalBasis.NONE, (*one.candidates, one.column), one.unit)


def proposal_of(table: FileTable, heading: str, answer: str | None) -> Proposal:
    bare, unit = unit_in_heading(heading)
    if answer is not None:
        return Proposal(heading, answer, ProposalBasis.ANSWERED, (), unit)
    own, trade = index_of(table)
    for text in dict.fromkeys((plain(heading), plain(bare))):
        for basis, index in ((ProposalBasis.NAME, own), (ProposalBasis.TRADE, trade)):
            columns = sorted(index.get(text, ()))
            if len(columns) == 1:
                return Proposal(heading, columns[0], basis, (), unit)
            if columns:
                return Proposal(heading, "", ProposalBasis.NONE, tuple(columns), unit)
    return Proposal(heading, "", ProposalBasis.NONE, parts_known(plain(bare), own, trade), unit)


@cache
def words_of(text: str) -> frozenset[str]:
    return frozenset(text.split())


def parts_known(text: str, own: Index, trade: Index) -> tuple[str, ...]:
    """Columns one of whose names is a part of the heading, or the other way round: `Bohrung fertig`, `Stock no (old)`."""
    given = words_of(text)
    found = {
        column
        for index in (own, trade)
        for name, columns in index.items()
        if len(name) > 2 and (words_of(name) <= given or (given and given < words_of(name) and len(text) > 3))
        for column in columns
    }
    return tuple(sorted(found))[:6]
