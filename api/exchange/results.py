"""Results of an import, row by row and in total."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from typing import Any

from inventory.facts import Fact, fact


class RowOutcome(StrEnum):
    CREATED = "created"
    UPDATED = "updated"
    UNCHANGED = "unchanged"
    WAITING = "waiting"
    REJECTED = "rejected"


@dataclass(frozen=True)
class CellError:
    """One error; `column` is empty if it concerns the whole row."""

    column: str
    fact: Fact


@dataclass(frozen=True)
class CellChange:
    """What a row changes in a record that stands."""

    column: str
    before: Any
    after: Any


@dataclass(frozen=True)
class RowResult:
    line: int
    key: str
    outcome: RowOutcome
    errors: tuple[CellError, ...] = ()
    changes: tuple[CellChange, ...] = ()

    def as_json(self) -> dict[str, Any]:
        errors = [{"column": error.column, **error.fact.as_json()} for error in self.errors]
        found = {"line": self.line, "key": self.key, "outcome": self.outcome, "errors": errors}
        return found | {"changes": [asdict(one) for one in self.changes]} if self.changes else found


@dataclass(frozen=True)
class ImportResult:
    """`problems` stop the file as a whole; `written` says whether anything was kept."""

    kind: str
    row_results: tuple[RowResult, ...] = ()
    problems: tuple[Fact, ...] = ()
    notes: tuple[Fact, ...] = ()
    dry_run: bool = False
    written: bool = False
    counts: Counter[str] = field(default_factory=Counter)

    @property
    def rejected(self) -> int:
        return self.counts[RowOutcome.REJECTED]

    @property
    def is_accepted(self) -> bool:
        return not self.problems and not self.rejected

    def summary(self) -> tuple[Fact, ...]:
        if self.problems:
            return (fact("import_refused", kind=self.kind),)
        counts = {str(outcome): self.counts[outcome] for outcome in RowOutcome}
        code = "rows_imported_and_waiting" if counts["waiting"] else "rows_imported"
        return fact(code, kind=self.kind, **counts), *self.consequence()

    def consequence(self) -> tuple[Fact, ...]:
        if self.dry_run:
            return (fact("import_was_dry_run"),)
        if not self.rejected:
            return ()
        return (fact("rejected_rows_left_out" if self.written else "nothing_written_for_rejected_rows"),)

    def as_json(self) -> list[dict[str, Any]]:
        return [row.as_json() for row in self.row_results]


MOST_REJECTED = 20_000
"""Rows with errors that are listed: what a person corrects in one go. Two in a hundred of a million rows."""
MOST_LISTED = 10_000
"""Other rows that are listed; their outcome is counted all the same."""


class Report:
    """Collects the result of each row, in any order. All are counted; so many are kept that a person can read."""

    def __init__(self) -> None:
        self.counts: Counter[str] = Counter()
        self.left_out: Counter[tuple[str, str]] = Counter()
        """Errors of rows that are not listed, by column and code."""
        self._listed: dict[int, tuple[str, RowOutcome]] = {}
        self._errors: dict[int, list[CellError]] = {}
        self._reasons: dict[int, list[CellError]] = {}
        self._rejected = bytearray()
        self._repeats: dict[int, tuple[str, int]] = {}

    def note(self, line: int, key: str, outcome: RowOutcome) -> None:
        self.counts[outcome] += 1
        if len(self._listed) < MOST_LISTED:
            self._listed[line] = (key, outcome)

    def note_all(
        self, lines: Sequence[int], name: Callable[[int], str], outcomes: Sequence[RowOutcome]
    ) -> None:
        """Of many rows; `name` gives the key of the row at a place."""
        self.counts.update(outcomes)
        for place in range(min(len(lines), MOST_LISTED - len(self._listed))):
            self._listed[lines[place]] = (name(place), outcomes[place])

    def reject(self, line: int, key: str, column: str, refusal: Fact) -> None:
        if not self.is_rejected(line):
            self.counts[RowOutcome.REJECTED] += 1
            if line >= len(self._rejected):
                self._rejected.extend(bytes(line + 1 - len(self._rejected)))
            self._rejected[line] = True
            if len(self._errors) < MOST_REJECTED:
                self._errors[line] = []
                self._listed[line] = (key, RowOutcome.REJECTED)
        if line in self._errors:
            self._errors[line].append(CellError(column, refusal))
        else:
            self.left_out[column, refusal.code] += 1

    def wait(self, line: int, key: str, column: str, reason: Fact) -> None:
        """The row is kept and waits for a record that it names."""
        if line not in self._reasons:
            self.counts[RowOutcome.WAITING] += 1
            self._listed[line] = (key, RowOutcome.WAITING)
        self._reasons.setdefault(line, []).append(CellError(column, reason))

    def repeated(self, line: int, key: str, first_line: int) -> None:
        """The row repeats an earlier one: it gets the same result and is not counted twice."""
        self._repeats[line] = (key, first_line)

    def is_rejected(self, line: int) -> bool:
        return line < len(self._rejected) and bool(self._rejected[line])

    @property
    def has_rejected(self) -> bool:
        return bool(self.counts[RowOutcome.REJECTED])

    def rows(self) -> list[RowResult]:
        for line, (key, first_line) in self._repeats.items():
            if self.is_rejected(first_line):
                self.reject(line, key, "", fact("row_repeats_rejected_row", first_line=first_line))
            else:
                self.note(line, key, RowOutcome.UNCHANGED)
        self._repeats.clear()
        return [
            RowResult(line, key, outcome, tuple(self._errors.get(line) or self._reasons.get(line) or ()))
            for line, (key, outcome) in sorted(self._listed.items())
        ]

    def notes(self) -> tuple[Fact, ...]:
        """What is not listed row by row, counted."""
        hidden = sum(self.counts.values()) - len(self._listed)
        found = [fact("rows_not_listed", count=hidden, listed=len(self._listed))] if hidden else []
        for (column, code), count in self.left_out.most_common():
            code_of = "more_rows_refused" if column else "more_whole_rows_refused"
            found.append(fact(code_of, count=count, column=column, reason=code))
        return tuple(found)
