"""Downtime money a year against money on the shelf, as steps; today's place and the best for the same money drawn in."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor, log10

from api.wording.figures import money
from inventory.planning.budget_frontier import Frontier, Point

WIDTH, HEIGHT = 360.0, 250.0
LEFT, RIGHT, TOP, BASE = 62.0, 346.0, 16.0, 196.0
TENFOLD_FROM = 50.0
"""Costs that lie further apart are drawn with each line ten times the one below."""
MOST_DECADES = 6
LEAST_SHOWN = 1.0
WORD_GAP, LETTER = 9.0, 7.9
"""Between a mark and its words, and the width of a letter of them on a phone."""


@dataclass(frozen=True)
class Scale:
    """Money to a height; `is_tenfold` where each line is ten times the one below."""

    low: float
    high: float
    is_tenfold: bool

    def y(self, cost: float) -> float:
        return BASE - (BASE - TOP) * min(max(self._share(cost), 0.0), 1.0)

    def _share(self, cost: float) -> float:
        if self.is_tenfold:
            return (log10(max(cost, self.low)) - log10(self.low)) / (log10(self.high) - log10(self.low))
        return (cost - self.low) / (self.high - self.low)

    @property
    def levels(self) -> list[tuple[float, str]]:
        if self.is_tenfold:
            costs = [10.0**power for power in range(round(log10(self.low)), round(log10(self.high)) + 1)]
        else:
            costs = [self.high * place / 4 for place in range(5)]
        return [(self.y(cost), short(cost)) for cost in costs]


@dataclass(frozen=True)
class Mark:
    """A point of the drawing with its words: to the right of it, where nothing is drawn, or over it at the edge."""

    x: float
    y: float
    spend: Decimal
    cost: Decimal
    words: str

    @property
    def is_at_the_edge(self) -> bool:
        return self.x + WORD_GAP + LETTER * len(self.words) > WIDTH

    @property
    def side(self) -> str:
        return "end" if self.is_at_the_edge else "start"

    @property
    def word_x(self) -> float:
        return RIGHT if self.is_at_the_edge else self.x + WORD_GAP

    @property
    def word_y(self) -> float:
        return self.y - 10 if self.is_at_the_edge else self.y

    @property
    def cross(self) -> str:
        return f"M{self.x - 5:.1f} {self.y - 5:.1f}l10 10m0 -10l-10 10"


@dataclass(frozen=True)
class BudgetChart:
    path: str
    scale: Scale
    marks: tuple[tuple[float, str], ...]
    today: Mark
    best: Mark
    points: tuple[Point, ...]

    @property
    def view_box(self) -> str:
        return f"0 0 {WIDTH:g} {HEIGHT:g}"

    @property
    def axis(self) -> str:
        return f"M{LEFT:g} {TOP:g}V{BASE:g}H{RIGHT:g}"

    @property
    def lines(self) -> str:
        return "".join(f"M{LEFT:g} {y:.1f}H{RIGHT:g}" for y, _ in self.scale.levels)

    @property
    def mark_y(self) -> float:
        return BASE + 18

    @property
    def foot_y(self) -> float:
        return HEIGHT - 12

    @property
    def label_x(self) -> float:
        return LEFT - 5

    @property
    def middle_x(self) -> float:
        return (LEFT + RIGHT) / 2


def budget_chart(found: Frontier, *, most_points: int = 24) -> BudgetChart | None:
    """None where nothing could be weighed."""
    if len(found.curve) < 2:
        return None
    costs = [float(point.downtime_cost_per_year) for point in (*found.curve, found.today)]
    spends = [float(point.spend) for point in (*found.curve, found.today)]
    scale, longest = _scale(costs), _round_up(max(spends) or 1.0)

    def mark(name: str, point: Point) -> Mark:
        cost = point.downtime_cost_per_year
        words = f"{name} {money(cost)} {found.currency}"
        return Mark(_x(float(point.spend), longest), scale.y(float(cost)), point.spend, cost, words)

    return BudgetChart(
        path=_stairs(found.curve, scale, longest),
        scale=scale,
        marks=tuple((_x(longest * place / 4, longest), short(longest * place / 4)) for place in range(5)),
        today=mark("today", found.today),
        best=mark("best", found.best_for_the_same_money),
        points=_some(found.curve, most_points),
    )


def short(value: float) -> str:
    """An amount of an axis: 2.5k, 40k, 1.2M."""
    for size, letter in ((1e9, "bn"), (1e6, "M"), (1e3, "k")):
        if value >= size:
            return f"{value / size:.3g}{letter}"
    return f"{value:.3g}"


def _scale(costs: Sequence[float]) -> Scale:
    high, low = max(max(costs), LEAST_SHOWN), max(min(costs), LEAST_SHOWN)
    if high / low < TENFOLD_FROM:
        return Scale(0.0, _round_up(high), False)
    top = ceil(log10(high))
    return Scale(10.0 ** max(floor(log10(low)), top - MOST_DECADES), 10.0**top, True)


def _round_up(value: float) -> float:
    """To a number of one or two digits that four parts of an axis share out evenly."""
    power = 10.0 ** floor(log10(value))
    return next(step * power for step in (1, 1.2, 1.6, 2, 2.4, 3, 4, 5, 6, 8, 10) if value <= step * power)


def _x(spend: float, longest: float) -> float:
    return LEFT + (RIGHT - LEFT) * spend / longest


def _stairs(points: Sequence[Point], scale: Scale, longest: float) -> str:
    """Flat until the money for the next buy is there, then down."""
    first = points[0]
    path = f"M{_x(float(first.spend), longest):.1f} {scale.y(float(first.downtime_cost_per_year)):.1f}"
    for point in points[1:]:
        path += f"H{_x(float(point.spend), longest):.1f}V{scale.y(float(point.downtime_cost_per_year)):.1f}"
    return path


def _some(points: Sequence[Point], most: int) -> tuple[Point, ...]:
    stride = max(ceil(len(points) / most), 1)
    kept = [*points[::stride], points[-1]]
    return tuple(dict.fromkeys(kept))
