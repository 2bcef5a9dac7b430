"""The frame of a chart, and the scales and ticks of its axes; in units of the drawing, y points down."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor, log10

TENFOLD_FROM = 50.0
"""Values that are further apart than this are drawn with each tick ten times the one below."""
MOST_DECADES = 6
LEAST_SHOWN = 1.0


@dataclass(frozen=True, kw_only=True)
class Frame:
    """The size of a drawing, and the edges of what is plotted in it."""

    height: float
    left: float
    right: float
    top: float
    base: float
    width: float = 360.0

    @property
    def view_box(self) -> str:
        return f"0 0 {self.width:g} {self.height:g}"

    @property
    def baseline(self) -> str:
        return f"M{self.left:g} {self.base:g}H{self.right:g}"

    @property
    def axes(self) -> str:
        return f"M{self.left:g} {self.top:g}V{self.base:g}H{self.right:g}"

    @property
    def middle_x(self) -> float:
        return (self.left + self.right) / 2

    @property
    def label_x(self) -> float:
        """Where the labels of the upright axis end."""
        return self.left - 4

    @property
    def label_y(self) -> float:
        return self.base + 17

    @property
    def foot_y(self) -> float:
        """Of the name of the level axis."""
        return self.height - 9

    def x(self, share: float) -> float:
        return self.left + (self.right - self.left) * share

    def y(self, share: float) -> float:
        return self.base - (self.base - self.top) * share


@dataclass(frozen=True)
class Scale:
    """Values as a share of an axis that ends at a round number."""

    high: float
    step: float
    low: float = 0.0
    is_tenfold: bool = False

    def share(self, value: float) -> float:
        if self.is_tenfold:
            return _clipped(log10(max(value, self.low) / self.low) / log10(self.high / self.low))
        return _clipped(value / self.high)

    @property
    def ticks(self) -> list[float]:
        if self.is_tenfold:
            return [self.low * 10.0**power for power in range(round(log10(self.high / self.low)) + 1)]
        return [self.step * place for place in range(round(self.high / self.step) + 1)]


def linear_scale(largest: float) -> Scale:
    """From 0 in three to six steps of 1, 2 or 5 times a power of ten."""
    largest = largest if largest > 0 else 1.0
    rough = largest / 4
    power = 10.0 ** floor(log10(rough))
    step = next(size * power for size in (1, 2, 5, 10) if rough <= size * power)
    return Scale(step * max(ceil(largest / step - 1e-9), 1), step)


def money_scale(values: Iterable[float]) -> Scale:
    """Linear from 0, or tenfold where the values are too far apart for that."""
    shown = [max(value, LEAST_SHOWN) for value in values]
    high, low = max(shown), min(shown)
    if high / low < TENFOLD_FROM:
        return linear_scale(high)
    top = ceil(log10(high))
    return Scale(10.0**top, 0.0, 10.0 ** max(floor(log10(low)), top - MOST_DECADES), True)


def stairs(points: Iterable[tuple[float, float]]) -> str:
    """Level to each point, then up or down to it."""
    (x, y), *others = points
    return f"M{x:.1f} {y:.1f}" + "".join(f"H{x:.1f}V{y:.1f}" for x, y in others)


def _clipped(share: float) -> float:
    return min(max(share, 0.0), 1.0)
