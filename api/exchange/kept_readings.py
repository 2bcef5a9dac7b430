"""How a sheet of a set was read, kept beside its file: reading it again for each look at the page takes a second.

It is read anew when anything changes that it rests on: what the sheet is said to be, the answers of its source, the records
that it may name, or this program.
"""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from django.db import DatabaseError, transaction
from django.db.models import Count, Max, Model

from api.exchange.mapping.mapped_file import MappedFile, table_of_kind
from api.exchange.mapping.questions import FileQuestion, Option, samples
from api.models import ImportSheet, SourceAnswer
from drives.models import Equipment, Plant, Position
from inventory.facts import Fact, fact_from_json
from inventory.models import MachineShop, Storeroom
from inventory.models.access_scope import current_scope
from inventory.models.fields import Stamped

PLACES: tuple[type[Model], ...] = (Plant, Storeroom, MachineShop, Equipment, Position)
"""By whose codes and clocks a file is read, whatever its kind."""


@dataclass(frozen=True)
class ReadHeading:
    """As which column a heading was read, what else it could mean, and some of its cells."""

    heading: str
    column: str
    candidates: tuple[str, ...]
    cells: tuple[str, ...]

    @property
    def is_open(self) -> bool:
        return len(self.candidates) > 0


@dataclass(frozen=True)
class ReadPart:
    """What people are shown and asked of a mapped file, without its rows."""

    headings: tuple[ReadHeading, ...]
    questions: tuple[FileQuestion, ...]
    notes: tuple[Fact, ...]


def without_rows(mapped: MappedFile) -> ReadPart:
    headings = (
        ReadHeading(one.heading, one.column, one.candidates, samples(mapped.table.column(one.heading)))
        for one in mapped.proposals
    )
    return ReadPart(tuple(headings), mapped.questions, (*mapped.table.notes, *mapped.notes))


def kept_reading(sheet: ImportSheet, rests_on: str) -> tuple[bool, tuple[ReadPart, ...] | None]:
    """Whether it is kept, and the reading; None where the sheet is as a template asks."""
    if sheet.reading.get("rests_on") != rests_on:
        return False, None
    parts = sheet.reading["parts"]
    return True, None if parts is None else tuple(map(part_from_json, parts))


def keep_reading(sheet: ImportSheet, rests_on: str, parts: Collection[ReadPart] | None) -> None:
    kept = None if parts is None else [part_as_json(one) for one in parts]
    sheet.reading = {"rests_on": rests_on, "parts": kept}
    try:
        with transaction.atomic():
            sheet.save(update_fields=["reading"])
    except DatabaseError:
        # A page that reads goes on where nothing can be written; the next one reads the sheet again.
        return


def what_it_rests_on(sheet: ImportSheet, source: str, others: Collection[str]) -> str:
    kinds = sorted({sheet.kind, *others})
    answers = (
        SourceAnswer.objects.filter(source=source, kind__in=kinds) if source else SourceAnswer.objects.none()
    )
    scope = current_scope()
    found = (
        program(),
        (sheet.file_id, sheet.name, sheet.kind, source, sorted(others)),
        sorted(answers.values_list("kind", "about", "name", "answer")),
        [None if ids is None else sorted(ids) for ids in (scope.plants, scope.storerooms)],
        [state_of(model) for model in named_by(kinds)],
    )
    return sha256(json.dumps(found, default=str).encode()).hexdigest()


def named_by(kinds: Collection[str]) -> list[type[Model]]:
    """The records that a file of these kinds may name."""
    lookups = {
        column.lookup.model
        for kind in kinds
        for column in table_of_kind(kind).every_column
        if column.lookup is not None
    }
    return sorted({*PLACES, *lookups}, key=lambda model: str(model._meta.label))


def state_of(model: type[Model]) -> tuple[Any, ...]:
    changed = "updated_at" if issubclass(model, Stamped) else "pk"
    found = model._base_manager.aggregate(count=Count("pk"), last=Max("pk"), changed=Max(changed))
    return (model._meta.label, *found.values())


@cache
def program() -> str:
    """Another version may read the same file in another way."""
    sources = sorted(one for one in Path(__file__).parent.rglob("*") if one.suffix in (".py", ".csv"))
    return sha256(b"".join(one.read_bytes() for one in sources)).hexdigest()


def part_as_json(part: ReadPart) -> dict[str, Any]:
    return {
        "headings": [[one.heading, one.column, one.candidates, one.cells] for one in part.headings],
        "questions": [question_as_json(one) for one in part.questions],
        "notes": [one.as_json() for one in part.notes],
    }


def part_from_json(kept: Mapping[str, Any]) -> ReadPart:
    return ReadPart(
        tuple(
            ReadHeading(heading, column, tuple(candidates), tuple(cells))
            for heading, column, candidates, cells in kept["headings"]
        ),
        tuple(map(question_from_json, kept["questions"])),
        tuple(map(fact_from_json, kept["notes"])),
    )


def question_as_json(one: FileQuestion) -> dict[str, Any]:
    options = [
        [option.value, option.label and option.label.as_json(), option.results] for option in one.options
    ]
    return {
        "key": one.key,
        "text": one.text.as_json(),
        "options": options,
        "examples": one.examples,
        "is_free": one.is_free,
    }


def question_from_json(kept: Mapping[str, Any]) -> FileQuestion:
    options = (
        Option(value, label and fact_from_json(label), tuple(results))
        for value, label, results in kept["options"]
    )
    return FileQuestion(
        kept["key"], fact_from_json(kept["text"]), tuple(options), tuple(kept["examples"]), kept["is_free"]
    )
