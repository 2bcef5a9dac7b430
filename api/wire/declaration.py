"""The form in which a record travels: members, filters, order and file columns, declared once.

From it come the serializer (`api.wire.serializers`), the view (`api.wire.views`) and the columns of files (`api.wire.columns`);
what the edge needs of it stands in `api.edge.declarations`. Names are written with spaces between them; `public=path` where
a filter or an order has another name than its column.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from api.edge.declarations import Declaration, declarations, declare
from api.edge.filtering import Range
from api.edge.lengths import PLAUSIBLE, Plausible
from api.wire.cells import Cell
from inventory.models.fields import GREATEST_QUANTITY, MINUTES_A_WEEK

Parser = Callable[[Cell], Any]
STAMPS = frozenset({"id", "created_at", "updated_at"})
SINGULAR = {
    "opening-hours": "opening-hours",
    "stock-policies": "stock-policy",
    "stocking/runs": "stocking-run",
}


@dataclass(frozen=True)
class Lookup:
    """How a reference is found: the record, the fields of its natural key, and the columns that hold them."""

    model: type[Any]
    fields: tuple[str, ...]
    columns: tuple[str, ...]
    what: str
    in_file: bool = False
    related: tuple[str, ...] = ()
    """Records that the writer needs beside each one found."""


@dataclass(frozen=True)
class Column:
    """One column of a file: what it writes, how its cells are read, and what an empty cell means."""

    name: str
    field: str
    parse: Parser
    required: bool = False
    blank: Any = None
    lookup: Lookup | None = None
    decimal: bool = False


@dataclass(frozen=True)
class FileForm:
    """A kind of file. Files are loaded by `order`: those that others refer to come first."""

    order: int
    columns: str = ""
    """Empty: the members that can be written, in their order."""
    required: str = ""
    """Columns that must be given although the record itself can do without."""
    given: Mapping[str, Column] = field(default_factory=dict)
    """Columns that are no field of the record."""
    parsers: Mapping[str, Parser] = field(default_factory=dict)
    related: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """What the writer needs beside the record that a column refers to."""


@dataclass(frozen=True)
class ListForm:
    """How a list is filtered, searched and ordered. References, words and truth values need no more than their name."""

    filters: str = ""
    numbers: Mapping[str, Range] = field(default_factory=dict)
    quantities: str = ""
    minutes: str = ""
    moments: str = ""
    days: str = ""
    search: str = ""
    more: Mapping[str, Any] = field(default_factory=dict)
    """Filters with a help text or a method of their own."""
    sortable: str = ""
    ordering: str = ""

    @property
    def ranges(self) -> dict[str, Range]:
        """Every number that is a filter, with what is plausible for it."""
        found = dict(self.numbers)
        for names, most in ((self.quantities, GREATEST_QUANTITY), (self.minutes, MINUTES_A_WEEK)):
            found |= {name: Range(0, most, path, whole=True) for name, path in named_paths(names)}
        return found


@dataclass(frozen=True, eq=False, kw_only=True)
class WireRecord(Declaration):
    path: str
    """Below /api/v1/, and the kind of its files; empty where it is listed below another record alone."""
    text: str = ""
    """What one record is, as the schema says it."""
    list_text: str = ""
    fields: str = ""
    """Its members in order; `name=path` is text that is read at another place, such as `currency=item.currency`."""
    or_null: str = ""
    """Text members that are null, and not empty, where there is nothing to say."""
    renamed: Mapping[str, str] = field(default_factory=dict)
    """Members whose column has another name."""
    members: Mapping[str, Any] = field(default_factory=dict)
    """Members that the column does not describe, as serializer fields."""
    lengths: Mapping[str, Plausible] = field(default_factory=dict)
    """The range in which a bare number in a length column is taken as millimetres."""
    read_only: str = ""
    listed: ListForm | None = None
    related: str = ""
    """Paths that are read with each record; empty: its references."""
    is_read_only: bool = False
    """Written by acts of its own, and by no PUT or PATCH."""
    read_roles: tuple[str, ...] | None = None
    write_roles: tuple[str, ...] = ("manager", "integration")
    file: FileForm | None = None

    def __post_init__(self) -> None:
        PLAUSIBLE.update(self.lengths)

    @property
    def is_keyed(self) -> bool:
        """Whether one column names the record, so that its address can hold it."""
        return len(self.key_fields) == 1 and bool(
            getattr(self.model._meta.get_field(self.key), "unique", False)
        )

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name for name, _ in named_paths(self.fields))

    @property
    def basename(self) -> str:
        """In the names of its addresses: the path as one of them is called."""
        return SINGULAR.get(self.path) or self.path.removesuffix("s")


def named_paths(text: str) -> Iterator[tuple[str, str]]:
    """Pairs of a public name and its path; the path is empty where only the name is written."""
    for word in text.split():
        name, _, path = word.partition("=")
        yield name, path


def wire_records() -> list[WireRecord]:
    return [one for one in declarations() if isinstance(one, WireRecord)]


__all__ = ["Column", "FileForm", "ListForm", "Lookup", "WireRecord", "declare", "named_paths", "wire_records"]
