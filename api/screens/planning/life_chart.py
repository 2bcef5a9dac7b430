"""How long units lasted: the share that outlives each hour with its interval, the law beside it, and where lives stand now."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, exp, floor, isnan, log10
from typing import Any

from api.screens.planning.evidence import LifeRow
from drives.reliability.lifetimes import right_censored
from drives.reliability.survival import SurvivalCurve, survival_curve

WIDTH, HEIGHT = 360.0, 224.0
LEFT, RIGHT, TOP, BASE = 40.0, 352.0, 14.0, 170.0
LAW_POINTS = 48
TICK_HALF = 4.0
MARK = 5.0


@dataclass(frozen=True)
class Step:
    """A line of the table: an hour at which units wore out."""

    hours: float
    at_risk: int
    ends: int
    share: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class LifeChart:
    """Paths in the units of the drawing; `half_hours` is what half of them outlive, None where it was not reached."""

    steps: tuple[Step, ...]
    curve: str
    band: str
    law: str
    law_words: tuple[str, ...]
    ticks: str
    ages: tuple[str, ...]
    running: int
    marks: tuple[tuple[float, str], ...]
    half_hours: float | None
    half_x: float

    @property
    def view_box(self) -> str:
        return f"0 0 {WIDTH:g} {HEIGHT:g}"

    @property
    def axis(self) -> str:
        return f"M{LEFT:g} {TOP:g}V{BASE:g}H{RIGHT:g}"

    @property
    def levels(self) -> tuple[tuple[float, str], ...]:
        return ((TOP, "100 %"), (_y(0.5), "50 %"), (BASE, "0"))

    @property
    def half_path(self) -> str:
        return f"M{LEFT:g} {_y(0.5):.1f}H{self.half_x:.1f}V{BASE:g}"

    @property
    def mark_y(self) -> float:
        return BASE + 26

    @property
    def words_y(self) -> tuple[tuple[float, str], ...]:
        return tuple((TOP + 12 + 16 * row, words) for row, words in enumerate(self.law_words))

    @property
    def right(self) -> float:
        return RIGHT

    @property
    def foot_y(self) -> float:
        return HEIGHT - 8


def life_chart(lives: Sequence[LifeRow], fit: dict[str, Any] | None, *, is_used: bool) -> LifeChart | None:
    """Wear alone is an end; None where none was seen, as then there is no curve."""
    if not any(life.is_end for life in lives):
        return None
    longest = _nice_end(max(life.hours or 0.0 for life in lives))
    curve = survival_curve(
        right_censored([life.hours or 0.0 for life in lives], observed=[life.is_end for life in lives])
    )
    last = max(life.hours or 0.0 for life in lives)
    running = [life for life in lives if life.counts_as == "running"]
    half = next((float(h) for h, s in zip(curve.hours, curve.survival, strict=True) if s <= 0.5), None)
    return LifeChart(
        steps=tuple(_steps(curve)),
        curve=_stairs(curve.hours, curve.survival, last, longest),
        band=_band(curve, last, longest),
        law=_law(fit, longest),
        law_words=_law_words(half, fit, is_used=is_used),
        ticks="".join(_tick(curve, life.hours or 0.0, longest) for life in lives if not life.is_end),
        ages=tuple(_age(life.hours or 0.0, longest) for life in running),
        running=len(running),
        marks=_marks(longest),
        half_hours=half,
        half_x=_x(half or 0.0, longest),
    )


def _x(hours: float, longest: float) -> float:
    return LEFT + (RIGHT - LEFT) * hours / longest


def _y(share: float) -> float:
    return BASE - (BASE - TOP) * share


def _interval(longest: float) -> float:
    """1, 2 or 5 times a power of ten, three to six of which make up the axis."""
    rough = longest / 4
    power = 10.0 ** floor(log10(rough))
    return next(step * power for step in (1, 2, 5, 10) if rough <= step * power)


def _nice_end(last: float) -> float:
    step = _interval(max(last, 1.0))
    return float(step * max(ceil(last / step), 1))


def _marks(longest: float) -> tuple[tuple[float, str], ...]:
    step = _interval(longest)
    count = round(longest / step)
    return tuple((_x(step * place, longest), f"{step * place:,.0f}") for place in range(count + 1))


def _stairs(hours: Any, shares: Any, last: float, longest: float) -> str:
    """Flat until an hour at which units wore out, then down, and flat to the longest life."""
    path = f"M{LEFT:g} {TOP:g}"
    for hour, share in zip(hours, shares, strict=True):
        path += f"H{_x(float(hour), longest):.1f}V{_y(float(share)):.1f}"
    return path + f"H{_x(last, longest):.1f}"


def _band(curve: SurvivalCurve, last: float, longest: float) -> str:
    """Between the bounds, from the first end on; where one is not known it stays at the estimate."""
    ends = [*(float(hour) for hour in curve.hours[1:]), last]
    upper, lower = "", ""
    for place, (start, end) in enumerate(zip(curve.hours, ends, strict=True)):
        share = float(curve.survival[place])
        low, high = float(curve.survival_low[place]), float(curve.survival_high[place])
        top, bottom = (share if isnan(high) else high), (share if isnan(low) else low)
        left, right = _x(float(start), longest), _x(end, longest)
        upper += f"{'L' if upper else 'M'}{left:.1f} {_y(top):.1f}H{right:.1f}"
        lower = f"L{right:.1f} {_y(bottom):.1f}H{left:.1f}" + lower
    return f"{upper}{lower}Z"


def _law(fit: dict[str, Any] | None, longest: float) -> str:
    if not fit or not fit.get("shape"):
        return ""
    shape, scale = fit["shape"], fit["scale_hours"]
    hours = [longest * place / LAW_POINTS for place in range(LAW_POINTS + 1)]
    points = [f"{_x(hour, longest):.1f} {_y(exp(-((hour / scale) ** shape))):.1f}" for hour in hours]
    return "M" + "L".join(points)


def _law_words(half: float | None, fit: dict[str, Any] | None, *, is_used: bool) -> tuple[str, ...]:
    words = [f"half outlive {half:,.0f} h" if half else "more than half still go on"]
    if fit and fit.get("shape"):
        low, high = fit.get("shape_interval") or (None, None)
        bounds = f" ({low:.2g} to {high:.2g})" if low is not None and high is not None else ""
        words += [f"shape {fit['shape']:.3g}{bounds}", f"scale {fit['scale_hours']:,.0f} h"]
        if not is_used:
            words.append("a law tried, not relied on")
    return tuple(words)


def _tick(curve: SurvivalCurve, hours: float, longest: float) -> str:
    y = _y(curve.survival_at(hours))
    return f"M{_x(hours, longest):.1f} {y - TICK_HALF:.1f}v{2 * TICK_HALF:g}"


def _age(hours: float, longest: float) -> str:
    return (
        f"M{_x(hours, longest):.1f} {BASE + 1:.1f}l{MARK / 1.4:.1f} {1.6 * MARK:.1f}h{-2 * MARK / 1.4:.1f}z"
    )


def _steps(curve: SurvivalCurve) -> list[Step]:
    rows = zip(
        curve.hours,
        curve.at_risk,
        curve.failures,
        curve.survival,
        curve.survival_low,
        curve.survival_high,
        strict=True,
    )
    return [
        Step(float(h), round(n), round(d), float(s), _known(low), _known(high))
        for h, n, d, s, low, high in rows
    ]


def _known(value: float) -> float | None:
    return None if isnan(value) else float(value)
