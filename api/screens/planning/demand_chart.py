"""Pieces requested per year or month: one block a piece, its shape says whether it was planned and whether it was met."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _

from api.screens.charts.axes import month_name, pieces_axis, whole
from api.screens.charts.chart import Chart, ChartColumn, Sign
from api.screens.charts.lettering import TEXT_SIZE
from api.screens.charts.picture import Axis, Note, Picture
from api.screens.charts.scale import slots
from api.screens.planning.evidence import DemandRow

MONTHLY_UP_TO_YEARS = 2
LARGEST_SINGLE = 14
"""Bars up to this height are drawn piece by piece, higher ones as one block of each kind."""
GAP = 1.4
KINDS = ((False, False), (False, True), (True, False), (True, True))
"""Whether a piece was planned and whether it was not met, from the foot of a bar to its top."""
PeriodKey = tuple[int, int]
"""Year and month; 0 for the whole year."""
BLOCK, CROSS = "M2 2h12v12H2z", "M4 4l8 8m0-8l-8 8"


@dataclass(frozen=True)
class DemandPeriod:
    """One year or month, with its pieces of each kind."""

    key: PeriodKey
    counts: dict[tuple[bool, bool], int]

    @property
    def name(self) -> str:
        year, month = self.key
        return f"{year}-{month:02}" if month else str(year)

    @property
    def label(self) -> str:
        year, month = self.key
        return month_name(date(year, month, 1)) if month else str(year)

    @property
    def unplanned(self) -> int:
        return self.counts[False, False] + self.counts[False, True]

    @property
    def planned(self) -> int:
        return self.counts[True, False] + self.counts[True, True]

    @property
    def unmet(self) -> int:
        return self.counts[False, True] + self.counts[True, True]

    @property
    def total(self) -> int:
        return self.unplanned + self.planned


def demand_chart(
    demand: Sequence[DemandRow], record_from: datetime, record_until: datetime, unit: str
) -> Chart | None:
    """None where nothing was requested. `unit` is the word for several of them."""
    if not demand:
        return None
    is_monthly = record_until.year - record_from.year < MONTHLY_UP_TO_YEARS
    periods = _periods(demand, record_from, record_until, is_monthly=is_monthly)
    total = sum(period.total for period in periods)
    title = _("{unit} a month") if is_monthly else _("{unit} a year")
    span = {"first": periods[0].label, "last": periods[-1].label}
    words = _("{total} {unit} from {first} to {last}").format(total=whole(total), unit=unit, **span)
    return Chart(
        name="demand",
        summary=_("Requested: {what}; the table below has the figures").format(what=words),
        picture=_picture(periods, title.format(unit=unit), words),
        columns=(
            ChartColumn("period", _("Month") if is_monthly else _("Year"), is_number=False),
            ChartColumn("unplanned", _("Unplanned"), whole),
            ChartColumn("planned", _("Planned"), whole),
            ChartColumn("not_filled", _("Of these not filled"), whole),
        ),
        rows=[(period.name, period.unplanned, period.planned, period.unmet) for period in periods],
        signs=tuple(_signs(periods)),
    )


def _periods(
    demand: Sequence[DemandRow], first: datetime, last: datetime, *, is_monthly: bool
) -> list[DemandPeriod]:
    """Each of the record, also one without demand."""
    keys = _months(first, last) if is_monthly else _years(demand, first, last)
    found = {key: dict.fromkeys(KINDS, 0) for key in keys}
    for row in demand:
        key = row.at.year, row.at.month if is_monthly else 0
        found.setdefault(key, dict.fromkeys(KINDS, 0))[row.is_planned, row.is_unmet] += row.quantity
    return [DemandPeriod(key, counts) for key, counts in sorted(found.items())]


def _years(demand: Sequence[DemandRow], first: datetime, last: datetime) -> Iterable[PeriodKey]:
    return ((year, 0) for year in range(min(first.year, demand[0].at.year), last.year + 1))


def _months(first: datetime, last: datetime) -> Iterable[PeriodKey]:
    for month in range(first.year * 12 + first.month - 1, last.year * 12 + last.month):
        yield month // 12, month % 12 + 1


def _picture(periods: Sequence[DemandPeriod], title: str, words: str) -> Picture:
    highest = max(period.total for period in periods)
    labels = tuple((float(place), period.label) for place, period in enumerate(periods))
    level = Axis(slots(len(periods)), "", labels)
    picture = Picture(level, pieces_axis(highest, title), [Note(words)], headroom=TEXT_SIZE)
    width = picture.bar_width(len(periods))
    for place, period in enumerate(periods):
        _blocks(picture, place, width, period, is_single=highest <= LARGEST_SINGLE)
    picture.over_bars(
        [(place, period.total, whole(period.total)) for place, period in enumerate(periods) if period.total]
    )
    return picture


def _blocks(picture: Picture, place: int, width: float, period: DemandPeriod, *, is_single: bool) -> None:
    foot = 0
    for (planned, unmet), pieces in period.counts.items():
        kind = "planned" if planned else "unplanned"
        for size in [1] * pieces if is_single else [pieces] if pieces else []:
            picture.bar(kind, place, width, foot, foot + size, GAP)
            if unmet:
                height = picture.y(foot) - picture.y(foot + size) - GAP
                middle = (picture.y(foot) + picture.y(foot + size) + GAP) / 2
                half = max(min(width, height, 12.0) / 2 - 1, 0.5)
                picture.draw(f"cross on-{kind}", _cross(picture.x(place), middle, half))
            foot += size


def _cross(x: float, y: float, half: float) -> str:
    return (
        f"M{x - half:.1f} {y - half:.1f}l{2 * half:.1f} {2 * half:.1f}"
        f"m0 {-2 * half:.1f}l{-2 * half:.1f} {2 * half:.1f}"
    )


def _signs(periods: Sequence[DemandPeriod]) -> Iterable[Sign]:
    yield Sign(_("unplanned"), (("c-unplanned", BLOCK),))
    if any(period.planned for period in periods):
        yield Sign(_("planned work"), (("c-planned", BLOCK),))
    if any(period.unmet for period in periods):
        crossed = (("c-unplanned", BLOCK), ("c-cross c-on-unplanned", CROSS))
        yield Sign(_("crossed: not filled, or only partly"), crossed)
