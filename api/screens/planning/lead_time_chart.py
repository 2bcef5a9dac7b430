"""The demand in one lead time in whole pieces, several to a bar where there are many, with the reorder point drawn in."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from api.screens.planning.chart_axes import Frame

FRAME = Frame(height=176.0, left=4.0, right=356.0, top=48.0, base=146.0)
RAREST_DRAWN = 0.0005
FEWEST, MOST, MOST_LABELS = 3, 24, 12
BAR_SHARE, WIDEST_BAR = 0.7, 44.0


@dataclass(frozen=True)
class LeadTimeBar:
    """The chance of `first` to `last` pieces."""

    first: int
    last: int
    chance: float
    x: float
    y: float
    width: float
    label: str
    is_met: bool

    @property
    def pieces(self) -> str:
        return f"{self.first}" if self.first == self.last else f"{self.first}–{self.last}"

    @property
    def left(self) -> float:
        return self.x - self.width / 2

    @property
    def height(self) -> float:
        return FRAME.base - self.y


@dataclass(frozen=True)
class LeadTimeChart:
    """`enough` is the chance that the reorder point covers the demand."""

    bars: tuple[LeadTimeBar, ...]
    reorder_point: int
    enough: float
    line_x: float
    frame: Frame = FRAME

    @property
    def line(self) -> str:
        return f"M{self.line_x:.1f} {FRAME.top - 32:g}V{FRAME.base:g}"

    @property
    def word_side(self) -> str:
        return "end" if self.line_x > FRAME.width * 0.6 else "start"

    @property
    def word_x(self) -> float:
        return self.line_x + (-5 if self.word_side == "end" else 5)

    @property
    def word_y(self) -> float:
        return FRAME.top - 24


def lead_time_chart(law: Sequence[float], reorder_point: int) -> LeadTimeChart | None:
    """`law` is the chance of 0, 1, 2, … pieces in a lead time; None where it is not known or nothing is stocked."""
    if not law or reorder_point < 0:
        return None
    likely = max((pieces + 1 for pieces, chance in enumerate(law) if chance >= RAREST_DRAWN), default=1)
    drawn = max(likely, reorder_point + 2, FEWEST)
    size = ceil(drawn / MOST)
    chances = [sum(law[first : first + size]) for first in range(0, drawn, size)]
    width = min((FRAME.right - FRAME.left) / len(chances) * BAR_SHARE, WIDEST_BAR)
    bars = tuple(
        LeadTimeBar(
            first=place * size,
            last=place * size + size - 1,
            chance=chance,
            x=FRAME.x((place + 0.5) / len(chances)),
            y=FRAME.y(chance / max(chances)),
            width=width,
            label="" if place % ceil(len(chances) / MOST_LABELS) else f"{place * size}",
            is_met=place * size + size - 1 <= reorder_point,
        )
        for place, chance in enumerate(chances)
    )
    line_x = FRAME.x((reorder_point + 1) / (len(chances) * size))
    return LeadTimeChart(bars, reorder_point, min(sum(law[: reorder_point + 1]), 1.0), line_x)
