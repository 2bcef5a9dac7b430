"""Pieces requested per year or month: one block a piece, its shape says whether it was planned and whether it was met."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from api.screens.planning.chart_axes import Frame
from api.screens.planning.evidence import DemandRow

FRAME = Frame(height=190.0, left=4.0, right=356.0, top=24.0, base=164.0)
MONTHLY_UP_TO_YEARS = 2
LARGEST_SINGLE = 14
"""Bars up to this height are drawn piece by piece, higher ones as one block of each kind."""
MOST_LABELS = 8
BAR_SHARE = 0.72
HIGHEST_PIECE = 40.0
GAP = 1.4
KINDS = ((False, False), (False, True), (True, False), (True, True))
"""Whether a piece was planned and whether it was not met, from the foot of a bar to its top."""
PeriodKey = tuple[int, int]
"""Year and month; 0 for the whole year."""


@dataclass(frozen=True)
class DemandBlock:
    """One piece, or all of its kind; `cross` is the path that marks what was not met."""

    x: float
    y: float
    width: float
    height: float
    kind: str
    cross: str = ""


@dataclass(frozen=True)
class DemandPeriod:
    """One year or month."""

    label: str
    name: str
    unplanned: int
    planned: int
    unmet: int
    x: float
    total_y: float
    blocks: tuple[DemandBlock, ...]

    @property
    def total(self) -> int:
        return self.unplanned + self.planned


@dataclass(frozen=True)
class DemandChart:
    periods: tuple[DemandPeriod, ...]
    is_monthly: bool
    frame: Frame = FRAME

    @property
    def has_planned(self) -> bool:
        return any(period.planned for period in self.periods)

    @property
    def has_unmet(self) -> bool:
        return any(period.unmet for period in self.periods)

    @property
    def total(self) -> int:
        return sum(period.total for period in self.periods)


def demand_chart(
    demand: Sequence[DemandRow], record_from: datetime, record_until: datetime
) -> DemandChart | None:
    """None where nothing was requested."""
    if not demand:
        return None
    is_monthly = record_until.year - record_from.year < MONTHLY_UP_TO_YEARS
    keys = _months(record_from, record_until) if is_monthly else _years(demand, record_from, record_until)
    by_period: dict[PeriodKey, list[DemandRow]] = {key: [] for key in keys}
    for row in demand:
        by_period.setdefault((row.at.year, row.at.month if is_monthly else 0), []).append(row)
    highest = max(sum(row.quantity for row in rows) for rows in by_period.values())
    return DemandChart(
        tuple(
            _period(key, rows, place=place, places=len(by_period), highest=highest)
            for place, (key, rows) in enumerate(sorted(by_period.items()))
        ),
        is_monthly,
    )


def _years(demand: Sequence[DemandRow], first: datetime, last: datetime) -> Iterable[PeriodKey]:
    return ((year, 0) for year in range(min(first.year, demand[0].at.year), last.year + 1))


def _months(first: datetime, last: datetime) -> Iterable[PeriodKey]:
    for month in range(first.year * 12 + first.month - 1, last.year * 12 + last.month):
        yield month // 12, month % 12 + 1


def _period(key: PeriodKey, rows: list[DemandRow], *, place: int, places: int, highest: int) -> DemandPeriod:
    counts = dict.fromkeys(KINDS, 0)
    for row in rows:
        counts[row.is_planned, row.is_unmet] += row.quantity
    middle, width = FRAME.x((place + 0.5) / places), min(FRAME.x(BAR_SHARE / places) - FRAME.left, 40.0)
    piece = min((FRAME.base - FRAME.top) / max(highest, 1), HIGHEST_PIECE)
    year, month = key
    return DemandPeriod(
        label=_label(key) if place % -(-places // MOST_LABELS) == 0 else "",
        name=f"{year}-{month:02}" if month else str(year),
        unplanned=counts[False, False] + counts[False, True],
        planned=counts[True, False] + counts[True, True],
        unmet=counts[False, True] + counts[True, True],
        x=middle,
        total_y=FRAME.base - sum(counts.values()) * piece - 5,
        blocks=tuple(_blocks(counts, middle - width / 2, width, piece, is_single=highest <= LARGEST_SINGLE)),
    )


def _label(key: PeriodKey) -> str:
    year, month = key
    return f"{month}/{year % 100:02}" if month else str(year)


def _blocks(
    counts: dict[tuple[bool, bool], int], x: float, width: float, piece: float, *, is_single: bool
) -> Iterable[DemandBlock]:
    y = FRAME.base
    for (planned, unmet), pieces in counts.items():
        for size in [1] * pieces if is_single else [pieces] if pieces else []:
            height = max(size * piece - GAP, 1.0)
            y -= size * piece
            cross = _cross(x + width / 2, y + height / 2, min(width, height, 12.0) / 2 - 1) if unmet else ""
            yield DemandBlock(x, y, width, height, "planned" if planned else "unplanned", cross)


def _cross(x: float, y: float, half: float) -> str:
    return (
        f"M{x - half:.1f} {y - half:.1f}l{2 * half:.1f} {2 * half:.1f}"
        f"m0 {-2 * half:.1f}l{-2 * half:.1f} {2 * half:.1f}"
    )
