"""A chart of a page: its picture, what its signs mean, and the same data as a table and as a file."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from api.edge.csv_writing import csv_file
from api.screens.charts.picture import Picture

ASKED = "chart"
"""Name in the address of the chart whose data are asked for as a file."""


@dataclass(frozen=True)
class Sign:
    """A sign of the picture with its meaning: kinds of path with paths in a square of 16."""

    words: str
    paths: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ChartColumn:
    """`name` with its unit heads the column of the file, `head` that of the page."""

    name: str
    head: str
    show: Callable[[Any], str] = str
    is_number: bool = True


@dataclass(frozen=True)
class Chart:
    name: str
    summary: str
    """For whoever does not see the picture."""
    picture: Picture
    columns: tuple[ChartColumn, ...]
    rows: Sequence[Sequence[Any]]
    signs: tuple[Sign, ...] = ()

    @property
    def cells(self) -> Iterable[list[tuple[str, bool]]]:
        for row in self.rows:
            pairs = zip(self.columns, row, strict=True)
            yield [(column.show(value), column.is_number) for column, value in pairs]

    def address(self, request: HttpRequest) -> str:
        """Of its file: that of the page with all that was chosen on it."""
        return "?" + urlencode([*_chosen(request), (ASKED, self.name)])

    def file(self) -> HttpResponseBase:
        return csv_file(
            f"{self.name}.csv", [column.name for column in self.columns], (list(row) for row in self.rows)
        )


def _chosen(request: HttpRequest) -> Iterable[tuple[str, str]]:
    return ((name, str(value)) for name, value in request.GET.items() if name != ASKED)


def file_of(request: HttpRequest, context: Mapping[str, Any]) -> HttpResponseBase | None:
    """The data of the chart that the address asks for; None where it asks for the page."""
    asked = request.GET.get(ASKED, "")
    charts = (one for one in context.values() if isinstance(one, Chart))
    return next((one.file() for one in charts if one.name == asked), None)
