"""The lists of a calculated budget, which are stored apart: what is bought, each drive, and what is left out and why."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from api.answers.answer_lists import lines_between, store_lists
from api.operations.jobs.calculations import Calculated
from api.operations.jobs.kinds import JobInHand
from inventory.planning.budget_frontier import DriveDowntime, Frontier, FrontierBuy, PartLeftOut

BUYS, DRIVES, LEFT_OUT = "buys", "drives", "left-out"
FORMS: Mapping[str, type[Any]] = {BUYS: FrontierBuy, DRIVES: DriveDowntime, LEFT_OUT: PartLeftOut}
FIRST_LINES = 50
"""Of each list stand in the answer itself."""
TO_ENTER = frozenset(
    {
        *("price_not_known", "price_in_other_currency", "downtime_cost_not_known", "lead_time_not_known"),
        "cannot_be_calculated",
    }
)
"""All others are parts not to be bought: never requested, run down, stocked under another number."""


@dataclass(frozen=True)
class LeftOutSum:
    """Parts left out for reasons of one code."""

    code: str
    parts: int
    example: PartLeftOut

    @property
    def has_others(self) -> bool:
        return self.parts > 1

    @property
    def is_to_enter(self) -> bool:
        return self.code in TO_ENTER


@dataclass(frozen=True)
class Budget:
    """A budget with the first lines of its lists, and how many lines they have."""

    frontier: Frontier
    buys: int
    drives: int
    left_out: tuple[LeftOutSum, ...]
    """In the order of the list: first what can be weighed once data is entered, then by number."""

    @property
    def parts_left_out(self) -> int:
        return sum(one.parts for one in self.left_out)

    def span(self, name: str, code: str = "") -> tuple[int, int]:
        """Places of a list between which its lines stand, of one reason where its code is given."""
        if name != LEFT_OUT:
            return 0, {BUYS: self.buys, DRIVES: self.drives}[name]
        begin = 0
        for one in self.left_out:
            if one.code == code:
                return begin, begin + one.parts
            begin += one.parts
        return (0, 0) if code else (0, begin)


def without_lists(job: JobInHand, found: Frontier) -> Budget:
    left_out, sums = _by_reason(found.left_out)
    store_lists(job, {BUYS: found.buys, DRIVES: found.by_drive, LEFT_OUT: left_out})
    first = replace(
        found,
        buys=found.buys[:FIRST_LINES],
        by_drive=found.by_drive[:FIRST_LINES],
        left_out=left_out[:FIRST_LINES],
    )
    return Budget(first, len(found.buys), len(found.by_drive), sums)


def _by_reason(
    left_out: Iterable[PartLeftOut],
) -> tuple[tuple[PartLeftOut, ...], tuple[LeftOutSum, ...]]:
    rows = list(left_out)
    count = Counter(row.reason.code for row in rows)
    rank = {code: (code not in TO_ENTER, -parts, code) for code, parts in count.items()}
    rows.sort(key=lambda row: rank[row.reason.code])
    first = {row.reason.code: row for row in reversed(rows)}
    codes = sorted(count, key=lambda code: rank[code])
    return tuple(rows), tuple(LeftOutSum(code, count[code], first[code]) for code in codes)


def budget_lines(answer: Calculated[Budget], name: str, after: int, limit: int, code: str = "") -> list[Any]:
    """At most so many lines behind a place, which counts from the first of that reason where its code is given."""
    begin, end = answer.found.span(name, code)
    return lines_between(answer.job, name, FORMS[name], begin + after, min(begin + after + limit, end))
