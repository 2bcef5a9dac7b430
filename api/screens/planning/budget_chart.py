"""Downtime cost a year against the value of stock, as steps; the stock of today and the best for the same money drawn in."""

from collections.abc import Sequence
from math import ceil

from django.utils.translation import gettext as _

from api.screens.charts.axes import money_axis
from api.screens.charts.chart import Chart, ChartColumn, Sign
from api.screens.charts.picture import Note, Picture, point_sign
from api.screens.page_filters import count
from api.wording.figures import money
from inventory.planning.budget_frontier import Frontier, Point

MOST_ROWS = 24
CROSS, DISC = "M3 3l10 10m0-10l-10 10", "M4 8a4 4 0 1 0 8 0a4 4 0 1 0-8 0z"


def budget_chart(found: Frontier) -> Chart | None:
    """None where nothing could be calculated."""
    if len(found.curve) < 2:
        return None
    currency = found.currency
    return Chart(
        name="stock-value",
        summary=_("Downtime cost a year with the best stock of each value; the table below has the figures"),
        picture=_picture(found),
        columns=(
            ChartColumn("stock_value", _("Stock value, {currency}").format(currency=currency), money),
            ChartColumn("downtime_hours_per_year", _("Downtime, h a year"), count),
            ChartColumn(
                "downtime_cost_per_year", _("Downtime, {currency} a year").format(currency=currency), money
            ),
        ),
        rows=[
            (point.spend, point.downtime_hours_per_year, point.downtime_cost_per_year)
            for point in some_of(found.curve)
        ],
        signs=(
            Sign(_("the best stock of each value"), (("c-line", "M0 3h6v5h5v5h5"),)),
            Sign(_("the stock of today"), (("c-tick", CROSS),)),
            Sign(_("the best for the same money"), (("c-spot", DISC),)),
        ),
    )


def _picture(found: Frontier) -> Picture:
    points = (*found.curve, found.today, found.best_for_the_same_money)
    costs = [float(point.downtime_cost_per_year) for point in points]
    title = _("downtime, {currency} a year").format(currency=found.currency)
    upright = money_axis(costs, title, may_be_tenfold=True)
    if upright.scale.is_tenfold:
        title = _("downtime, {currency} a year, each line tenfold").format(currency=found.currency)
        upright = money_axis(costs, title, may_be_tenfold=True)
    level = money_axis(
        [float(point.spend) for point in points], _("stock value, {currency}").format(currency=found.currency)
    )
    marks = (("tick", _("today"), found.today), ("spot", _("best"), found.best_for_the_same_money))
    notes = [
        Note(
            f"{name} {money(point.downtime_cost_per_year)} {found.currency} {_('a year')}",
            sign=kind,
            is_main=kind == "tick",
        )
        for kind, name, point in marks
    ]
    picture = Picture(level, upright, notes)

    def place(point: Point) -> tuple[float, float]:
        return float(point.spend), float(point.downtime_cost_per_year)

    picture.draw("line", picture.stairs(place(point) for point in found.curve))
    for kind, _name, point in marks:
        spend, cost = place(point)
        picture.draw(kind, point_sign(kind, picture.x(spend), picture.y(cost)))
    return picture


def some_of(points: Sequence[Point], most: int = MOST_ROWS) -> tuple[Point, ...]:
    stride = max(ceil(len(points) / most), 1)
    return tuple(dict.fromkeys([*points[::stride], points[-1]]))
