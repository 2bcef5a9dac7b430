"""Results of an import, row by row and in total."""

from collections import Counter
from dataclasses import dataclass, field
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
class RowResult:
    line: int
    key: str
    outcome: RowOutcome
    errors: tuple[CellError, ...] = ()

    def as_json(self) -> dict[str, Any]:
        errors = [{"column": error.column, **error.fact.as_json()} for error in self.errors]
        return {"line": self.line, "key": self.key, "outcome": self.outcome, "errors": errors}


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


def counted(rows: list[RowResult]) -> Counter[str]:
    return Counter(str(row.outcome) for row in rows)


class Report:
    """Collects the result of each row, in any order."""

    def __init__(self) -> None:
        self._outcomes: dict[int, tuple[str, RowOutcome]] = {}
        self._errors: dict[int, list[CellError]] = {}
        self._reasons: dict[int, list[CellError]] = {}
        self._repeats: dict[int, tuple[str, int]] = {}

    def note(self, line: int, key: str, outcome: RowOutcome) -> None:
        self._outcomes[line] = (key, outcome)

    def reject(self, line: int, key: str, column: str, refusal: Fact) -> None:
        self._errors.setdefault(line, []).append(CellError(column, refusal))
        self._outcomes[line] = (key, RowOutcome.REJECTED)

    def wait(self, line: int, key: str, column: str, reason: Fact) -> None:
        """The row is kept and waits for a record that it names."""
        self._reasons.setdefault(line, []).append(CellError(column, reason))
        self._outcomes[line] = (key, RowOutcome.WAITING)

    def upgrade(self, line: int, outcome: RowOutcome) -> None:
        """A row that seemed unchanged was written after all."""
        key, before = self._outcomes[line]
        if before is RowOutcome.UNCHANGED:
            self._outcomes[line] = (key, outcome)

    def repeated(self, line: int, key: str, first_line: int) -> None:
        """The row repeats an earlier one: it gets the same result and is not counted twice."""
        self._repeats[line] = (key, first_line)

    def is_rejected(self, line: int) -> bool:
        return line in self._errors

    def rows(self) -> list[RowResult]:
        for line, (key, first_line) in self._repeats.items():
            if self.is_rejected(first_line):
                self.reject(line, key, "", fact("row_repeats_rejected_row", first_line=first_line))
            else:
                self.note(line, key, RowOutcome.UNCHANGED)
        self._repeats.clear()
        return [
            RowResult(line, key, outcome, tuple(self._errors.get(line) or self._reasons.get(line) or ()))
            for line, (key, outcome) in sorted(self._outcomes.items())
        ]
