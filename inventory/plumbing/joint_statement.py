"""Several questions to the database in one statement, each with rows of its own shape: one way there and back instead of many."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from django.db import connections, router
from django.db.models import Model

from inventory.models.access_scope import current_scope

JSON_ARRAY = {"postgresql": "jsonb_build_array", "sqlite": "json_array"}
Row = list[Any]


class Parameters(dict[str, Any]):
    """The values of a statement by name: `put` gives the place that stands for one."""

    def put(self, value: Any) -> str:
        name = f"v{len(self)}"
        # A float would be compared as one, and no index of a decimal column would serve.
        self[name] = Decimal(str(round(value, 6))) if isinstance(value, float) else value
        return f"%({name})s"

    def put_all(self, values: Iterable[Any]) -> str:
        """A list for IN; one without values finds nothing."""
        return f"({', '.join(self.put(value) for value in values) or 'NULL'})"

    def in_scope(self, column: str) -> str:
        """That a storeroom is visible, as a further condition."""
        seen = current_scope().storerooms
        return "" if seen is None else f" AND {column} IN {self.put_all(sorted(seen))}"


@dataclass(frozen=True)
class Question:
    """SQL of the columns, and everything from FROM on."""

    columns: Sequence[str]
    source: str


def answers(
    model: type[Model], parameters: Parameters, questions: Mapping[str, Question], *, beginning: str = ""
) -> dict[str, list[Row]]:
    """The rows of each question; read where rows of `model` are read. `beginning` may hold what several of them share."""
    connection = connections[router.db_for_read(model)]
    array = JSON_ARRAY[connection.vendor]
    parts = (
        f"SELECT '{name}', {array}({', '.join(one.columns)}) {one.source}" for name, one in questions.items()
    )
    found: dict[str, list[Row]] = {name: [] for name in questions}
    with connection.cursor() as cursor:
        cursor.execute(f"{beginning} {' UNION ALL '.join(parts)}", parameters)
        for name, row in cursor.fetchall():
            found[name].append(json.loads(row))
    return found


def moment_of(text: str) -> datetime:
    """A moment out of such a row; SQLite stores it without its zone."""
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
