"""Chain wear by the day it was measured, against its limit, with the time in which the limit is expected."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils import formats, timezone
from django.utils.translation import gettext as _

from api.screens.charts.axes import calendar_axis, month_name, number_axis, plain
from api.screens.charts.chart import Chart, ChartColumn, Sign
from api.screens.charts.picture import Note, Picture, point_sign
from api.screens.history import DriveHistory, WearReading
from api.screens.page_filters import NONE, figure, percent
from drives.lessons.wear_notice import PositionNotice

FARTHEST = timedelta(days=3 * 365)
"""A limit that is expected later is told in words, so that the readings are not pressed together."""
WHISKER = 4.0
DISC = "M4 8a4 4 0 1 0 8 0a4 4 0 1 0-8 0z"


def wear_chart(history: DriveHistory) -> Chart | None:
    """None where the chain was never measured."""
    if not history.readings:
        return None
    signs = [Sign(_("measured, joined as long as it grows"), (("c-trail", "M0 12L16 4"), ("c-spot", DISC)))]
    if history.limit is not None:
        signs.append(Sign(_("limit {limit} %").format(limit=plain(history.limit)), (("c-law", "M0 8h16"),)))
    picture = _picture(history.readings, history.limit, history.notice)
    if "range" in picture.layers:
        early = history.notice.early_chance if history.notice else None
        words = _("limit expected; before the mark on the left with a chance of {chance} %")
        signs.append(Sign(words.format(chance=percent(early)), (("c-range", "M2 8h12M2 4v8M14 4v8"),)))
    return Chart(
        name="wear",
        summary=_("Chain wear as measured; the table below has the figures"),
        picture=picture,
        columns=(
            ChartColumn(
                "measured_on", _("Measured"), lambda day: formats.date_format(day, "DATE_FORMAT"), False
            ),
            ChartColumn("elongation_percent", _("Wear, %"), figure),
            ChartColumn("limit_percent", _("Limit, %"), figure),
            ChartColumn("share_of_limit", _("Share of the limit, %"), _of_limit),
        ),
        rows=[(_day(one), one.percent, one.limit, one.share) for one in history.readings],
        signs=tuple(signs),
    )


def _of_limit(share: float | None) -> str:
    return NONE if share is None else plain(100 * share)


def _day(reading: WearReading) -> date:
    return timezone.localdate(reading.inspection.at)


def _picture(readings: Sequence[WearReading], limit: float | None, notice: PositionNotice | None) -> Picture:
    days, newest = [_day(one) for one in readings], readings[0]
    reached = notice.limit_on if notice and limit else None
    is_shown = reached is not None and days[-1] <= reached <= max(days) + FARTHEST
    ends = [*days, *([reached] if is_shown and reached else [])]
    note = Note(_newest_words(newest))
    if reached is not None:
        words = _("limit {limit} % about {month}").format(
            limit=plain(limit or 0.0), month=month_name(reached)
        )
        note = Note(words, float(reached.toordinal()) if is_shown else None)
    picture = Picture(
        calendar_axis(min(ends), max(ends), _("day of the inspection")),
        number_axis(max(limit or 0.0, *(one.percent for one in readings), 0.1), _("chain wear, %")),
        [note],
    )
    if limit is not None:
        picture.draw("law", f"M{picture.left:.1f} {picture.y(limit):.1f}H{picture.right:.1f}")
        if is_shown and reached and notice and notice.early_limit_on:
            _expected(picture, notice.early_limit_on, reached, picture.y(limit))
    picture.draw("trail", _trail(picture, readings))
    for day, one in zip(days, readings, strict=True):
        picture.draw("spot", point_sign("spot", picture.x(day.toordinal()), picture.y(one.percent)))
    return picture


def _trail(picture: Picture, readings: Sequence[WearReading]) -> str:
    """A reading below the one before it is of another chain."""
    path, before = "", float("inf")
    for one in reversed(readings):
        x, y = picture.x(_day(one).toordinal()), picture.y(one.percent)
        path += f"{'L' if one.percent >= before else 'M'}{x:.1f} {y:.1f}"
        before = one.percent
    return path


def _newest_words(newest: WearReading) -> str:
    if newest.limit is None:
        return _("last {percent} %, limit not known").format(percent=plain(newest.percent))
    return _("last {percent} %, limit {limit} %").format(
        percent=plain(newest.percent), limit=plain(newest.limit)
    )


def _expected(picture: Picture, early: date, likely: date, y: float) -> None:
    first, last = picture.x(early.toordinal()), picture.x(likely.toordinal())
    ends = "".join(f"M{x:.1f} {y - WHISKER:.1f}v{2 * WHISKER:g}" for x in (first, last))
    picture.draw("range", f"M{first:.1f} {y:.1f}H{last:.1f}{ends}")
