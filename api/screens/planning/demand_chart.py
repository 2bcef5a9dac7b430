"""Pieces asked for per year or month as stacked whole pieces: planned or not, met or not, each told by its shape."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from api.screens.planning.evidence import DemandRow

WIDTH, HEIGHT = 360.0, 190.0
LEFT, RIGHT, TOP, BASE = 4.0, 356.0, 24.0, 164.0
MONTHLY_UP_TO_YEARS = 2
LARGEST_SINGLE = 14
"""Bars as high as this are drawn piece by piece, higher ones as one block of each kind."""
MOST_FULL_LABELS = 8
BAR_SHARE = 0.72
HIGHEST_PIECE = 40.0
GAP = 1.4


@dataclass(frozen=True)
class Block:
    """A rectangle of one piece, or of all of its kind; `cross` is the path that marks what was not met."""

    x: float
    y: float
    width: float
    height: float
    kind: str
    cross: str = ""


@dataclass(frozen=True)
class Span:
    """One year or month."""

    label: str
    name: str
    unplanned: int
    planned: int
    unmet: int
    x: float = 0.0
    label_y: float = BASE + 16
    total_y: float = 0.0
    blocks: tuple[Block, ...] = ()

    @property
    def total(self) -> int:
        return self.unplanned + self.planned


@dataclass(frozen=True)
class DemandChart:
    spans: tuple[Span, ...]
    per: str
    has_planned: bool
    has_unmet: bool

    @property
    def view_box(self) -> str:
        return f"0 0 {WIDTH:g} {HEIGHT:g}"

    @property
    def base(self) -> float:
        return BASE

    @property
    def ends(self) -> tuple[float, float]:
        return LEFT, RIGHT

    @property
    def total(self) -> int:
        return sum(span.total for span in self.spans)


def demand_chart(
    asked: Sequence[DemandRow], record_from: datetime, record_until: datetime
) -> DemandChart | None:
    """None where nothing was asked for."""
    if not asked:
        return None
    monthly = record_until.year - record_from.year <= MONTHLY_UP_TO_YEARS - 1
    keys = list(_months(record_from, record_until) if monthly else _years(asked, record_from, record_until))
    found: dict[tuple[int, int], list[DemandRow]] = {key: [] for key in keys}
    for one in asked:
        found.setdefault((one.at.year, one.at.month if monthly else 0), []).append(one)
    highest = max(sum(one.quantity for one in many) for many in found.values())
    spans = tuple(
        _span(place, len(found), key, many, highest)
        for place, (key, many) in enumerate(sorted(found.items()))
    )
    return DemandChart(
        spans=spans,
        per="month" if monthly else "year",
        has_planned=any(span.planned for span in spans),
        has_unmet=any(span.unmet for span in spans),
    )


def _years(asked: Sequence[DemandRow], first: datetime, last: datetime) -> Iterable[tuple[int, int]]:
    return ((year, 0) for year in range(min(first.year, asked[0].at.year), last.year + 1))


def _months(first: datetime, last: datetime) -> Iterable[tuple[int, int]]:
    for month in range(first.year * 12 + first.month - 1, last.year * 12 + last.month):
        yield month // 12, month % 12 + 1


def _span(place: int, places: int, key: tuple[int, int], asked: list[DemandRow], highest: int) -> Span:
    pitch = (RIGHT - LEFT) / places
    width = min(pitch * BAR_SHARE, 40.0)
    middle = LEFT + pitch * (place + 0.5)
    groups = [
        ("unplanned", False, _pieces(asked, planned=False, unmet=False)),
        ("unplanned", True, _pieces(asked, planned=False, unmet=True)),
        ("planned", False, _pieces(asked, planned=True, unmet=False)),
        ("planned", True, _pieces(asked, planned=True, unmet=True)),
    ]
    unit = (BASE - TOP) / highest if highest else 0.0
    blocks = tuple(
        _blocks(
            groups, middle - width / 2, width, min(unit, HIGHEST_PIECE), one_by_one=highest <= LARGEST_SINGLE
        )
    )
    total = sum(pieces for _, _, pieces in groups)
    return Span(
        label=_label(key, place, places),
        name=f"{key[0]}-{key[1]:02}" if key[1] else str(key[0]),
        unplanned=groups[0][2] + groups[1][2],
        planned=groups[2][2] + groups[3][2],
        unmet=groups[1][2] + groups[3][2],
        x=middle,
        total_y=BASE - total * min(unit, HIGHEST_PIECE) - 5,
        blocks=blocks,
    )


def _pieces(asked: list[DemandRow], *, planned: bool, unmet: bool) -> int:
    return sum(one.quantity for one in asked if one.is_planned == planned and one.is_unmet == unmet)


def _blocks(
    groups: list[tuple[str, bool, int]], x: float, width: float, unit: float, *, one_by_one: bool
) -> Iterable[Block]:
    y = BASE
    for kind, is_unmet, pieces in groups:
        sizes = [1] * pieces if one_by_one else [pieces] if pieces else []
        for size in sizes:
            height = max(size * unit - GAP, 1.0)
            y -= size * unit
            cross = _cross(x, y, width, height) if is_unmet else ""
            yield Block(x, y, width, height, kind, cross)


def _cross(x: float, y: float, width: float, height: float) -> str:
    """Two strokes in the middle of a block, as high as it allows."""
    half = min(width, height, 12.0) / 2 - 1
    cx, cy = x + width / 2, y + height / 2
    return (
        f"M{cx - half:.1f} {cy - half:.1f}l{2 * half:.1f} {2 * half:.1f}"
        f"m0 {-2 * half:.1f}l{-2 * half:.1f} {2 * half:.1f}"
    )


def _label(key: tuple[int, int], place: int, places: int) -> str:
    """Every bar named where there is room, else every second, third or so on."""
    every = -(-places // MOST_FULL_LABELS)
    if place % every:
        return ""
    return f"{key[1]}/{key[0] % 100:02}" if key[1] else str(key[0])
