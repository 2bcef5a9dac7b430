"""What may be asked for in one lead time, in whole pieces, with the reorder point drawn in."""

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 360.0, 176.0
LEFT, RIGHT, TOP, BASE = 4.0, 356.0, 30.0, 146.0
RAREST_DRAWN = 0.0005
FEWEST, MOST = 3, 24


@dataclass(frozen=True)
class LeadTimeBar:
    pieces: int
    chance: float
    x: float
    y: float
    width: float
    height: float
    is_met: bool

    @property
    def left(self) -> float:
        return self.x - self.width / 2


@dataclass(frozen=True)
class LeadTimeChart:
    """`enough` is the chance that the reorder point covers what is asked for."""

    bars: tuple[LeadTimeBar, ...]
    reorder_point: int
    enough: float
    line_x: float

    @property
    def view_box(self) -> str:
        return f"0 0 {WIDTH:g} {HEIGHT:g}"

    @property
    def base(self) -> float:
        return BASE

    @property
    def label_y(self) -> float:
        return BASE + 16

    @property
    def line_path(self) -> str:
        return f"M{self.line_x:.1f} {TOP - 14:g}V{BASE:g}"

    @property
    def word_side(self) -> str:
        return "end" if self.line_x > WIDTH * 0.6 else "start"

    @property
    def word_x(self) -> float:
        return self.line_x + (-5 if self.word_side == "end" else 5)

    @property
    def word_y(self) -> float:
        return TOP - 6


def lead_time_chart(law: Sequence[float], reorder_point: int) -> LeadTimeChart | None:
    """`law` is the chance of 0, 1, 2, … pieces in a lead time; None where it was not kept or nothing is stocked."""
    if not law or reorder_point < 0:
        return None
    drawn = max((place + 1 for place, chance in enumerate(law) if chance >= RAREST_DRAWN), default=1)
    drawn = min(max(drawn, reorder_point + 2, FEWEST), MOST)
    chances = [*law, *([0.0] * drawn)][:drawn]
    pitch, highest = (RIGHT - LEFT) / drawn, max(chances)
    bars = tuple(
        LeadTimeBar(
            pieces,
            chance,
            LEFT + pitch * (pieces + 0.5),
            BASE - (BASE - TOP - 18) * chance / highest,
            min(pitch * 0.7, 44.0),
            (BASE - TOP - 18) * chance / highest,
            pieces <= reorder_point,
        )
        for pieces, chance in enumerate(chances)
    )
    line = LEFT + pitch * min(reorder_point + 1, drawn)
    return LeadTimeChart(bars, reorder_point, min(sum(law[: reorder_point + 1]), 1.0), line)
