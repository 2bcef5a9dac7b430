"""The demand in one lead time in whole pieces, several to a bar where there are many, with the reorder point drawn in."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from django.utils.translation import gettext as _

from api.screens.charts.axes import share_axis, whole
from api.screens.charts.chart import Chart, ChartColumn, Sign
from api.screens.charts.picture import Axis, Note, Picture
from api.screens.charts.scale import slots
from api.screens.page_filters import chance as chance_words
from api.screens.page_filters import percent

RAREST_DRAWN = 0.0005
FEWEST, MOST = 3, 24
BLOCK = "M2 2h12v12H2z"


@dataclass(frozen=True)
class LeadTimeBin:
    """The chance of `first` to `last` pieces."""

    first: int
    last: int
    chance: float


def lead_time_chart(
    law: Sequence[float], reorder_point: int, unit: str, links_per_job: int | None = None
) -> Chart | None:
    """`law` is the chance of 0, 1, 2, … pieces in a lead time; None where it is not known or nothing is stocked.

    Of a chain the pieces are jobs of so many links each, and `reorder_point` is in links too.
    """
    if not law or reorder_point < 0:
        return None
    size = links_per_job or 1
    covered = reorder_point // size
    bins = bins_of(law, covered)
    enough = min(sum(law[: covered + 1]), 1.0)
    words = _("order at {reorder_point}: enough in {share} %").format(
        reorder_point=whole(reorder_point), share=percent(enough)
    )
    title = _("{unit} needed in one lead time").format(unit=unit)
    if links_per_job:
        title = _("links needed in one lead time, {links} a chain").format(links=links_per_job)
    picture = _picture(bins, covered, size, title, words)
    return Chart(
        name="lead-time",
        summary=f"{_('Chance of each number of pieces in one lead time')}; {words}",
        picture=picture,
        columns=(
            ChartColumn("from", _("{unit} from").format(unit=unit).capitalize(), whole),
            ChartColumn("to", _("to"), whole),
            ChartColumn("chance", _("Chance"), chance_words),
        ),
        rows=[(one.first * size, one.last * size, one.chance) for one in bins],
        signs=(
            Sign(_("covered"), (("c-unplanned", BLOCK),)),
            Sign(_("not covered"), (("c-planned", BLOCK),)),
        ),
    )


def bins_of(law: Sequence[float], reorder_point: int) -> list[LeadTimeBin]:
    """Whole pieces; a bin ends with the reorder point, so that no bin is covered in part."""
    likely = max((pieces + 1 for pieces, chance in enumerate(law) if chance >= RAREST_DRAWN), default=1)
    drawn = max(likely, reorder_point + 2, FEWEST)
    size = ceil(drawn / MOST)
    first = (reorder_point + 1) % size
    starts = [0] * bool(first) + list(range(first, drawn, size))
    ends = [*(start - 1 for start in starts[1:]), max(starts[-1] + size - 1, len(law) - 1)]
    return [
        LeadTimeBin(start, end, sum(law[start : end + 1])) for start, end in zip(starts, ends, strict=True)
    ]


def _picture(bins: Sequence[LeadTimeBin], covered: int, size: int, title: str, words: str) -> Picture:
    labels = tuple((float(place), whole(one.first * size)) for place, one in enumerate(bins))
    line = sum(one.last <= covered for one in bins) - 0.5
    picture = Picture(
        Axis(slots(len(bins)), title, labels),
        share_axis(max(one.chance for one in bins), _("chance, %")),
        [Note(words, line)],
    )
    width = picture.bar_width(len(bins))
    for place, one in enumerate(bins):
        picture.bar("unplanned" if one.last <= covered else "planned", place, width, 0.0, one.chance)
    return picture
