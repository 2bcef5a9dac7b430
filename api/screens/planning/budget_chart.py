"""Downtime cost a year against the value of stock, as steps; the stock of today and the best for the same money drawn in."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from django.utils.translation import gettext as _

from api.screens.planning.chart_axes import Frame, Scale, linear_scale, money_scale, stairs
from api.wording.figures import money
from api.wording.separators import localized
from inventory.planning.budget_frontier import Frontier, Point

FRAME = Frame(height=250.0, left=62.0, right=346.0, top=16.0, base=196.0)
WORD_GAP, LETTER = 9.0, 7.9
"""Between a mark and its words, and the width of a letter of them on a phone."""


@dataclass(frozen=True)
class StockMark:
    """A point of the drawing with its words: to the right of it, or over it near the edge."""

    x: float
    y: float
    words: str

    @property
    def is_at_the_edge(self) -> bool:
        return self.x + WORD_GAP + LETTER * len(self.words) > FRAME.width

    @property
    def side(self) -> str:
        return "end" if self.is_at_the_edge else "start"

    @property
    def word_x(self) -> float:
        return FRAME.right if self.is_at_the_edge else self.x + WORD_GAP

    @property
    def word_y(self) -> float:
        return self.y - 10 if self.is_at_the_edge else self.y

    @property
    def cross(self) -> str:
        return f"M{self.x - 5:.1f} {self.y - 5:.1f}l10 10m0 -10l-10 10"


@dataclass(frozen=True)
class BudgetChart:
    path: str
    spends: Scale
    costs: Scale
    today: StockMark
    best: StockMark
    points: tuple[Point, ...]
    frame: Frame = FRAME

    @property
    def levels(self) -> list[tuple[float, str]]:
        return [(FRAME.y(self.costs.share(cost)), short(cost)) for cost in self.costs.ticks]

    @property
    def marks(self) -> list[tuple[float, str]]:
        return [(FRAME.x(self.spends.share(spend)), short(spend)) for spend in self.spends.ticks]

    @property
    def grid(self) -> str:
        return "".join(f"M{FRAME.left:g} {y:.1f}H{FRAME.right:g}" for y, _name in self.levels)


def budget_chart(found: Frontier, *, most_points: int = 24) -> BudgetChart | None:
    """None where nothing could be calculated."""
    if len(found.curve) < 2:
        return None
    points = (*found.curve, found.today)
    spends = linear_scale(max(float(point.spend) for point in points))
    costs = money_scale(float(point.downtime_cost_per_year) for point in points)

    def place(point: Point) -> tuple[float, float]:
        cost = float(point.downtime_cost_per_year)
        return FRAME.x(spends.share(float(point.spend))), FRAME.y(costs.share(cost))

    def mark(name: str, point: Point) -> StockMark:
        cost = point.downtime_cost_per_year
        return StockMark(*place(point), f"{name} {money(cost)} {found.currency}")

    return BudgetChart(
        path=stairs(place(point) for point in found.curve),
        spends=spends,
        costs=costs,
        today=mark(_("today"), found.today),
        best=mark(_("best"), found.best_for_the_same_money),
        points=_some(found.curve, most_points),
    )


def short(value: float) -> str:
    """An amount on an axis: 2.5k, 40k, 1.2M."""
    for size, letter in ((1e9, "bn"), (1e6, "M"), (1e3, "k")):
        if value >= size:
            return localized(f"{value / size:.3g}") + letter
    return localized(f"{value:.3g}")


def _some(points: Sequence[Point], most: int) -> tuple[Point, ...]:
    stride = max(ceil(len(points) / most), 1)
    return tuple(dict.fromkeys([*points[::stride], points[-1]]))
