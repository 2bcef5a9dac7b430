"""How long units lasted: the share that outlives each hour with its interval, the fitted law, the age of those running."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, isnan
from typing import Any

from django.utils.translation import gettext as _

from api.screens.charts.axes import number_axis, share_axis, whole
from api.screens.charts.chart import Chart, ChartColumn, Sign
from api.screens.charts.picture import Note, Picture
from api.screens.page_filters import percent
from api.screens.planning.evidence import LifeRow
from api.wording.figures import ShownNumber
from drives.reliability.lifetimes import right_censored
from drives.reliability.survival import SurvivalCurve, survival_curve

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


def life_chart(lives: Sequence[LifeRow], fit: dict[str, Any] | None, *, is_used: bool) -> Chart | None:
    """Wear alone is an end; None without any, as then there is no curve."""
    if not any(life.is_end for life in lives):
        return None
    hours = [life.hours or 0.0 for life in lives]
    curve = survival_curve(right_censored(hours, observed=[life.is_end for life in lives]))
    steps = _steps(curve)
    law = fit if fit and fit.get("shape") else None
    return Chart(
        name="life",
        summary=_("Share of units that last longer than the running hours; the table below has the figures"),
        picture=_picture(lives, curve, steps, law),
        columns=(
            ChartColumn("running_hours", _("Running hours"), whole),
            ChartColumn("units_still_running", _("Units still running"), whole),
            ChartColumn("worn_out", _("Worn out"), whole),
            ChartColumn("share_lasting_longer", _("Last longer, %"), percent),
            ChartColumn("low_95_percent", _("95 % interval from, %"), percent),
            ChartColumn("high_95_percent", _("to, %"), percent),
        ),
        rows=[(one.hours, one.at_risk, one.ends, one.share, one.low, one.high) for one in steps],
        signs=tuple(_signs(lives, law, is_used=is_used)),
    )


def half_life_hours(steps: Iterable[SurvivalStep]) -> float | None:
    """What half of the units outlive; None where it was not reached."""
    return next((step.hours for step in steps if step.share <= 0.5), None)


def _picture(
    lives: Sequence[LifeRow],
    curve: SurvivalCurve,
    steps: Sequence[SurvivalStep],
    law: dict[str, Any] | None,
) -> Picture:
    last = max(life.hours or 0.0 for life in lives)
    half = half_life_hours(steps)
    words = _("more than half still running")
    if half is not None:
        words = _("half last longer than {hours:,.0f} h").format(hours=ShownNumber(half))
    picture = Picture(
        number_axis(last, _("running hours until worn out")),
        share_axis(1.0, _("units that last longer, %")),
        [Note(words, half)],
        below=MARK_HEIGHT + 2,
    )
    if half is not None:
        picture.draw("limit", f"M{picture.left:.1f} {picture.y(0.5):.1f}H{picture.x(half):.1f}")
    points = [(0.0, 1.0), *((step.hours, step.share) for step in steps)]
    picture.draw("line", picture.stairs(points) + f"H{picture.x(last):.1f}")
    picture.draw("band", _band(picture, steps, last))
    if law:
        picture.draw("law", _law(picture, law))
    for life in lives:
        x = picture.x(life.hours or 0.0)
        if not life.is_end:
            y = picture.y(curve.survival_at(life.hours or 0.0))
            picture.draw("tick", f"M{x:.1f} {y - TICK_HALF:.1f}v{2 * TICK_HALF:g}")
        if life.counts_as == "running":
            wing = MARK_WIDTH / 2
            picture.draw(
                "age", f"M{x:.1f} {picture.base + 1:.1f}l{wing:.1f} {MARK_HEIGHT:g}h{-MARK_WIDTH:.1f}z"
            )
    return picture


def _band(picture: Picture, steps: Sequence[SurvivalStep], last: float) -> str:
    """Between the bounds, from the first end on; where one is not known it stays at the estimate."""
    ends = [*(step.hours for step in steps[1:]), last]
    upper, lower = "", ""
    for step, end in zip(steps, ends, strict=True):
        bounds = (step.share if bound is None else bound for bound in (step.high, step.low))
        top, bottom = (picture.y(bound) for bound in bounds)
        left, right = picture.x(step.hours), picture.x(end)
        upper += f"{'L' if upper else 'M'}{left:.1f} {top:.1f}H{right:.1f}"
        lower = f"L{right:.1f} {bottom:.1f}H{left:.1f}" + lower
    return f"{upper}{lower}Z"


def _law(picture: Picture, fit: dict[str, Any]) -> str:
    shape, scale_hours, high = fit["shape"], fit["scale_hours"], picture.level.scale.high
    hours = [high * place / LAW_POINTS for place in range(LAW_POINTS + 1)]
    shares = (exp(-((hour / scale_hours) ** shape)) for hour in hours)
    return "M" + "L".join(
        f"{picture.x(hour):.1f} {picture.y(share):.1f}" for hour, share in zip(hours, shares, strict=True)
    )


def _signs(lives: Sequence[LifeRow], law: dict[str, Any] | None, *, is_used: bool) -> Iterable[Sign]:
    stepped = (("c-band", "M0 2h16v12H0z"), ("c-line", "M0 5h8v6h8"))
    yield Sign(_("share that lasts longer, with 95 % interval"), stepped)
    if law:
        yield Sign(law_words(law, is_used=is_used), (("c-law", "M0 4q8 0 16 9"),))
    if any(not life.is_end for life in lives):
        yield Sign(_("unit not worn out"), (("c-tick", "M8 3v10"),))
    if any(life.counts_as == "running" for life in lives):
        yield Sign(_("age of a running unit"), (("c-age", "M8 3l5 10H3z"),))


def law_words(fit: dict[str, Any], *, is_used: bool) -> str:
    low, high = fit.get("shape_interval") or (None, None)
    shape = _("shape {shape:sig3}").format(shape=ShownNumber(fit["shape"]))
    if low is not None and high is not None:
        bounds = {"low": ShownNumber(low), "high": ShownNumber(high)}
        shape = f"{shape} {_('({low:sig2} to {high:sig2})').format(**bounds)}"
    scale = _("scale {hours:,.0f} h").format(hours=ShownNumber(fit["scale_hours"]))
    words = f"{_('Weibull distribution')}: {shape}, {scale}"
    return words if is_used else f"{words}, {_('fitted, but not used')}"


def _steps(curve: SurvivalCurve) -> tuple[SurvivalStep, ...]:
    counts = zip(curve.hours, curve.at_risk, curve.failures, curve.survival, strict=True)
    bounds = zip(curve.survival_low, curve.survival_high, strict=True)
    return tuple(
        SurvivalStep(float(h), round(n), round(d), float(s), _known(low), _known(high))
        for (h, n, d, s), (low, high) in zip(counts, bounds, strict=True)
    )


def _known(value: float) -> float | None:
    return None if isnan(value) else float(value)
