"""What was promised in the back-test and what was kept, with its interval."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from api.screens.charts.axes import plain, share_axis
from api.screens.charts.chart import Chart, ChartColumn, Sign
from api.screens.charts.picture import Axis, Note, Picture, point_sign
from api.screens.charts.scale import slots
from api.screens.page_filters import percent, plainly
from api.wording.labels import BACKTEST_VERDICTS
from inventory.stocking.backtest import Promise

HALF_DASH = 16.0
WHISKER = 5.0


def promise_chart(promises: Sequence[Promise]) -> Chart | None:
    if not promises:
        return None
    return Chart(
        name="promises",
        summary=_("Promised and kept spans without a shortage; the table below has the figures"),
        picture=_picture(promises),
        columns=(
            ChartColumn("promised_share", _("Promised, %"), percent),
            ChartColumn("kept_share", _("Kept, %"), plainly),
            ChartColumn("low_95_percent", _("95 % interval from, %"), plainly),
            ChartColumn("high_95_percent", _("to, %"), plainly),
            ChartColumn(
                "verdict", _("Verdict"), lambda verdict: str(BACKTEST_VERDICTS[verdict]), is_number=False
            ),
        ),
        rows=[(one.promised, one.achieved, one.low, one.high, one.verdict) for one in promises],
        signs=(
            Sign(
                _("kept, with 95 % interval"),
                (("c-range", "M8 1v14M4 1h8M4 15h8"), ("c-spot", "M4 8a4 4 0 1 0 8 0a4 4 0 1 0-8 0z")),
            ),
            Sign(_("promised"), (("c-law", "M0 8h16"),)),
        ),
    )


def _picture(promises: Sequence[Promise]) -> Picture:
    lowest = min(min(one.low, one.promised) for one in promises)
    labels = tuple((float(place), percent(one.promised)) for place, one in enumerate(promises))
    picture = Picture(
        Axis(slots(len(promises)), _("promised, %"), labels),
        share_axis(1.0, _("spans without a shortage, %"), lowest),
        [Note(_decides(promises))],
    )
    for place, one in enumerate(promises):
        x, dash = picture.x(place), picture.y(one.promised)
        picture.draw("law", f"M{x - HALF_DASH:.1f} {dash:.1f}h{2 * HALF_DASH:g}")
        for bound in (one.low, one.high):
            picture.draw("range", f"M{x - WHISKER:.1f} {picture.y(bound):.1f}h{2 * WHISKER:g}")
        picture.draw("range", f"M{x:.1f} {picture.y(one.low):.1f}V{picture.y(one.high):.1f}")
        picture.draw("spot", point_sign("spot", x, picture.y(one.achieved)))
    return picture


def _decides(promises: Sequence[Promise]) -> str:
    """The promise that was missed by most, or the one that came closest to it."""
    worst = min(promises, key=lambda one: one.achieved - one.promised)
    return _("promised {promised} %, kept {kept} %").format(
        promised=percent(worst.promised), kept=plain(float(f"{100 * worst.achieved:.3g}"))
    )
