"""The expected cost of the positions at risk of a page as bars, the most expensive at the top."""

from collections.abc import Iterable
from decimal import Decimal

from django.utils.translation import gettext as _

from api.screens.charts.axes import money_axis
from api.screens.charts.chart import Chart, ChartColumn
from api.screens.charts.picture import Axis, Note, Picture
from api.screens.charts.scale import Scale
from api.wording.figures import money
from drives.exposure.positions_at_risk import PositionRisk

MOST = 8
LONGEST_TAG = 16
"""Letters of a tag in the picture: the table beside it has all of them."""
BAR_HEIGHT = 10.0

Row = tuple[str, Decimal]


def exposure_chart(risks: Iterable[PositionRisk]) -> Chart | None:
    """Of one currency, that of the first; None where no cost is known."""
    known = [one for one in risks if one.expected_cost]
    if not known:
        return None
    currency = known[0].position.currency
    rows = [
        (one.position.tag, Decimal(str(one.expected_cost)))
        for one in known
        if one.position.currency == currency
    ][:MOST]
    return Chart(
        name="expected-cost",
        summary=_("Expected cost of the most expensive positions; the table below has the figures"),
        picture=_picture(rows, currency),
        columns=(
            ChartColumn("position", _("Position"), is_number=False),
            ChartColumn("expected_cost", _("Expected cost, {currency}").format(currency=currency), money),
        ),
        rows=rows,
    )


def _picture(rows: list[Row], currency: str) -> Picture:
    costs = [float(cost) for _tag, cost in rows]
    words = _("together {amount} {currency}").format(
        amount=money(sum((cost for _tag, cost in rows), Decimal())), currency=currency
    )
    places = [float(len(rows) - 1 - place) for place in range(len(rows))]
    labels = tuple((place, shortened(tag)) for place, (tag, _cost) in zip(places, rows, strict=True))
    picture = Picture(
        money_axis(costs, _("expected cost, {currency}").format(currency=currency)),
        Axis(Scale(-0.5, len(rows) - 0.5, ()), _("position"), labels),
        [Note(words)],
    )
    for place, cost in zip(places, costs, strict=True):
        picture.level_bar("unplanned", place, BAR_HEIGHT, cost)
    return picture


def shortened(tag: str) -> str:
    return tag if len(tag) <= LONGEST_TAG else tag[: LONGEST_TAG - 1] + "…"
