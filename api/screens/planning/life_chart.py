"""How long units lasted: the share that outlives each hour with its interval, the fitted law, the age of those running."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, isnan
from typing import Any

from django.utils.translation import gettext as _

from api.screens.planning.chart_axes import Frame, Scale, linear_scale, stairs
from api.screens.planning.evidence import LifeRow
from api.wording.figures import ShownNumber
from drives.reliability.lifetimes import right_censored
from drives.reliability.survival import SurvivalCurve, survival_curve

FRAME = Frame(height=224.0, left=44.0, right=344.0, top=14.0, base=170.0)
LAW_POINTS = 48
TICK_HALF = 4.0
MARK_WIDTH, MARK_HEIGHT = 7.2, 8.0


@dataclass(frozen=True)
class SurvivalStep:
    """A line of the table: an hour at which units wore out."""

    hours: float
    at_risk: int
    ends: int
    share: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class LifeChart:
    """Paths in the units of the drawing; `half_hours` is what half of the units outlive, None where it was not reached."""

    steps: tuple[SurvivalStep, ...]
    scale: Scale
    curve: str
    band: str
    law: str
    law_words: tuple[str, ...]
    ticks: str
    ages: str
    half_hours: float | None
    frame: Frame = FRAME

    @property
    def levels(self) -> tuple[tuple[float, str], ...]:
        return tuple((FRAME.y(share), f"{100 * share:.0f} %") for share in (1.0, 0.5, 0.0))

    @property
    def marks(self) -> tuple[tuple[float, str], ...]:
        return tuple((_x(hours, self.scale), f"{ShownNumber(hours):,.0f}") for hours in self.scale.ticks)

    @property
    def half(self) -> str:
        return (
            f"M{FRAME.left:g} {FRAME.y(0.5):.1f}H{_x(self.half_hours or 0.0, self.scale):.1f}V{FRAME.base:g}"
        )

    @property
    def mark_y(self) -> float:
        return FRAME.base + 26

    @property
    def words(self) -> tuple[tuple[float, str], ...]:
        return tuple((FRAME.top + 12 + 16 * row, words) for row, words in enumerate(self.law_words))


def life_chart(lives: Sequence[LifeRow], fit: dict[str, Any] | None, *, is_used: bool) -> LifeChart | None:
    """Wear alone is an end; None without any, as then there is no curve."""
    if not any(life.is_end for life in lives):
        return None
    hours = [life.hours or 0.0 for life in lives]
    scale, last = linear_scale(max(hours)), max(hours)
    curve = survival_curve(right_censored(hours, observed=[life.is_end for life in lives]))
    steps = _steps(curve)
    half = next((step.hours for step in steps if step.share <= 0.5), None)
    law = fit if fit and fit.get("shape") else None
    return LifeChart(
        steps=steps,
        scale=scale,
        curve=_curve(steps, last, scale),
        band=_band(steps, last, scale),
        law=_law(law, scale) if law else "",
        law_words=(_half_words(half), *(_law_words(law, is_used=is_used) if law else ())),
        ticks="".join(_tick(curve, life.hours or 0.0, scale) for life in lives if not life.is_end),
        ages="".join(_age(life.hours or 0.0, scale) for life in lives if life.counts_as == "running"),
        half_hours=half,
    )


def _x(hours: float, scale: Scale) -> float:
    return FRAME.x(scale.share(hours))


def _curve(steps: Sequence[SurvivalStep], last: float, scale: Scale) -> str:
    ends = ((_x(step.hours, scale), FRAME.y(step.share)) for step in steps)
    return stairs([(FRAME.left, FRAME.top), *ends]) + f"H{_x(last, scale):.1f}"


def _band(steps: Sequence[SurvivalStep], last: float, scale: Scale) -> str:
    """Between the bounds, from the first end on; where one is not known it stays at the estimate."""
    ends = [*(step.hours for step in steps[1:]), last]
    upper, lower = "", ""
    for step, end in zip(steps, ends, strict=True):
        top, bottom = (FRAME.y(step.share if bound is None else bound) for bound in (step.high, step.low))
        left, right = _x(step.hours, scale), _x(end, scale)
        upper += f"{'L' if upper else 'M'}{left:.1f} {top:.1f}H{right:.1f}"
        lower = f"L{right:.1f} {bottom:.1f}H{left:.1f}" + lower
    return f"{upper}{lower}Z"


def _law(fit: dict[str, Any], scale: Scale) -> str:
    shape, scale_hours = fit["shape"], fit["scale_hours"]
    hours = [scale.high * place / LAW_POINTS for place in range(LAW_POINTS + 1)]
    shares = (exp(-((hour / scale_hours) ** shape)) for hour in hours)
    return "M" + "L".join(
        f"{_x(hour, scale):.1f} {FRAME.y(share):.1f}" for hour, share in zip(hours, shares, strict=True)
    )


def _half_words(half: float | None) -> str:
    if half is None:
        return _("more than half still running")
    return _("half last longer than {hours:,.0f} h").format(hours=ShownNumber(half))


def _law_words(fit: dict[str, Any], *, is_used: bool) -> tuple[str, ...]:
    low, high = fit.get("shape_interval") or (None, None)
    shape = _("shape {shape:sig3}").format(shape=ShownNumber(fit["shape"]))
    if low is not None and high is not None:
        bounds = {"low": ShownNumber(low), "high": ShownNumber(high)}
        shape = f"{shape} {_('({low:sig2} to {high:sig2})').format(**bounds)}"
    words = (shape, _("scale {hours:,.0f} h").format(hours=ShownNumber(fit["scale_hours"])))
    return words if is_used else (*words, _("fitted, but not used"))


def _tick(curve: SurvivalCurve, hours: float, scale: Scale) -> str:
    y = FRAME.y(curve.survival_at(hours))
    return f"M{_x(hours, scale):.1f} {y - TICK_HALF:.1f}v{2 * TICK_HALF:g}"


def _age(hours: float, scale: Scale) -> str:
    half = MARK_WIDTH / 2
    return f"M{_x(hours, scale):.1f} {FRAME.base + 1:.1f}l{half:.1f} {MARK_HEIGHT:g}h{-MARK_WIDTH:.1f}z"


def _steps(curve: SurvivalCurve) -> tuple[SurvivalStep, ...]:
    counts = zip(curve.hours, curve.at_risk, curve.failures, curve.survival, strict=True)
    bounds = zip(curve.survival_low, curve.survival_high, strict=True)
    return tuple(
        SurvivalStep(float(h), round(n), round(d), float(s), _known(low), _known(high))
        for (h, n, d, s), (low, high) in zip(counts, bounds, strict=True)
    )


def _known(value: float) -> float | None:
    return None if isnan(value) else float(value)
