"""The usual axes: whole pieces, shares in percent, running hours, money, days."""

from collections.abc import Iterable
from datetime import date

from django.utils import formats
from django.utils.translation import pgettext_lazy

from api.screens.charts.picture import Axis
from api.screens.charts.scale import Scale, calendar_scale, money_scale, round_scale
from api.wording.separators import localized

SIZES = (
    (1e9, pgettext_lazy("on an axis", "{number}bn")),
    (1e6, pgettext_lazy("on an axis", "{number}M")),
    (1e3, pgettext_lazy("on an axis", "{number}k")),
)


def pieces_axis(highest: int, title: str) -> Axis:
    """Its ticks are whole, as pieces are."""
    scale = round_scale(highest, is_whole=True)
    return Axis(scale, title, tuple((tick, whole(tick)) for tick in scale.ticks))


def share_axis(highest: float, title: str, low: float = 0.0) -> Axis:
    """Shares of one, lettered in percent."""
    scale = round_scale(highest, low)
    if scale.high > 1.0:
        scale = Scale(scale.low, 1.0, (*(tick for tick in scale.ticks if tick < 1.0), 1.0))
    return Axis(scale, title, tuple((tick, plain(100 * tick)) for tick in scale.ticks))


def number_axis(highest: float, title: str) -> Axis:
    scale = round_scale(highest)
    return Axis(scale, title, tuple((tick, plain(tick)) for tick in scale.ticks))


def money_axis(amounts: Iterable[float], title: str, *, may_be_tenfold: bool = False) -> Axis:
    scale = money_scale(amounts) if may_be_tenfold else round_scale(max(amounts))
    return Axis(scale, title, tuple((tick, short(tick)) for tick in scale.ticks))


def calendar_axis(first: date, last: date, title: str) -> Axis:
    scale = calendar_scale(first, last)
    days = [date.fromordinal(round(tick)) for tick in scale.ticks]
    is_yearly = all(day.month == 1 for day in days)
    texts = (str(day.year) if is_yearly else month_name(day) for day in days)
    return Axis(scale, title, tuple(zip(scale.ticks, texts, strict=True)))


def month_name(day: date) -> str:
    """Mar 2027, in the language of the reader."""
    return str(formats.date_format(day, "M Y"))


def whole(value: float) -> str:
    return localized(f"{round(value):,}")


def plain(value: float) -> str:
    return localized(f"{float(f'{value:.10g}'):,.12g}")


def short(value: float) -> str:
    """An amount on an axis: 2.5k, 40k, 1.2M."""
    size, words = next(((size, words) for size, words in SIZES if value >= size), (1.0, "{number}"))
    return str(words).format(number=localized(f"{value / size:.3g}"))
