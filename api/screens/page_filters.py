"""Template filters and tags: numbers with the separators of the language, sizes, times, words of the vocabulary."""

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from math import ceil

from django import template
from django.forms import BaseForm
from django.urls import reverse
from django.utils import formats, timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from api.screens.candidate_groups import reasons_of
from api.screens.page_options import PageOptions
from api.screens.planning.list_filters import ListFilters
from api.wording import figures, labels
from api.wording.check_units import unit_of
from api.wording.figures import RAREST_SHOWN, ShownNumber
from api.wording.lengths import inch_decimals, inches_first, length_text, size_text
from api.wording.record_kinds import file_kind
from api.wording.recorded_reasons import recorded_reason
from api.wording.sentences import sentence, sentences
from api.wording.separators import localized
from api.wording.terms import TERM_OF
from drives.substitutes.companions import Companion
from inventory.catalogue.stock_on_hand import ShelfStock
from inventory.facts import Fact
from inventory.interchange.findings import Finding
from inventory.interchange.requirement import Engagement
from inventory.interchange.vocabulary import Aspect, Grade
from inventory.models import Storeroom
from inventory.standards.chains import find_chain
from inventory.standards.sizes import MM_PER_INCH, inch_text

register = template.Library()
SELECTED = mark_safe(" selected")
register.filter("reasons", reasons_of)
register.filter("sentence", sentence)
register.filter("sentences", sentences)
register.filter("label", labels.label)
register.filter("file_kind", file_kind)

CHECK_DECIMALS = 3
"""A shaft and a bore differ by hundredths."""
NONE = "–"
MARK = mark_safe('<span aria-hidden="true">?</span>')
ONE_NUMBER = re.compile(r"\+?[0-9][0-9 ().-]{1,24}")
LINE_BREAK = re.compile(r"\s*\n\s*([,.;:)]?)")
SHAPES = {
    Grade.DROP_IN: '<circle cx="8" cy="8" r="6.6"/>',
    Grade.WITH_WORK: '<path d="M1.8 1.8h12.4v12.4H1.8z"/><path class="full" d="M1.8 8h12.4v6.2H1.8z"/>',
    Grade.NEEDS_REVIEW: '<path d="M8 1.6 15 14.4H1z"/><path d="M8 6v4.2M8 11.6v1.2"/>',
    Grade.UNFIT: '<path d="M1.8 1.8h12.4v12.4H1.8zM3 3l10 10M13 3 3 13"/>',
}
LABELS: Mapping[str, Mapping[str, object]] = {
    "importance": labels.IMPORTANCES,
    "source": labels.DEMAND_SOURCES,
    "result": labels.DEMAND_RESULTS,
    "life": labels.LIFE_RESULTS,
    "target": labels.TARGETS,
    "unit": labels.UNITS,
}


class OneLine(template.Node):
    def __init__(self, nodelist: template.NodeList) -> None:
        self.nodelist = nodelist

    def render(self, context: template.Context) -> SafeString:
        text = self.nodelist.render(context).strip()
        return SafeString(LINE_BREAK.sub(lambda found: found[1] or " ", text))


@register.tag
def oneline(parser: template.base.Parser, token: template.base.Token) -> OneLine:
    """What is written on several lines, as one: a line break is a space, and none before a comma or a full stop."""
    nodelist = parser.parse(("endoneline",))
    parser.delete_first_token()
    return OneLine(nodelist)


@register.simple_tag
def storeroom_options(storerooms: Iterable[Storeroom], selected: str) -> SafeString:
    """Joined here: a loop of the template over the storerooms of a large group would take most of the page's time."""
    return format_html_join(
        "\n",
        '<option value="{}"{}>{} {}</option>',
        ((room.code, SELECTED if room.code == selected else "", room.code, room.name) for room in storerooms),
    )


@register.simple_tag
def address(options: PageOptions | ListFilters, **changes: object) -> str:
    return options.address(**changes)


@register.filter
def sources_text(sources: Iterable[Fact]) -> str:
    return "; ".join(sentence(source) for source in sources)


@register.filter
def own_words(reason: str) -> str:
    """A reason that the service recorded by itself, in the language of the page; what somebody typed stays."""
    return recorded_reason(reason)


@register.filter
def label_of(value: str, kind: str) -> str:
    """The label from the list of that kind, such as `result`."""
    return str(LABELS[kind].get(value) or labels.label(value))


@register.filter
def unit_label(unit: str, quantity: int) -> str:
    """The unit of a quantity: 1 piece, 2 pieces."""
    if unit == "link":
        return ngettext("link", "links", quantity)
    return ngettext("piece", "pieces", quantity)


@register.filter
def label_list(values: Iterable[object] | None) -> str:
    return ", ".join(sorted(labels.label(value) for value in values or ()))


@register.filter
def grade_label(grade: Grade) -> str:
    return str(labels.GRADES[grade][0])


@register.filter
def grade_meaning(grade: Grade) -> str:
    return str(labels.GRADES[grade][1])


@register.filter
def grade_icon(grade: Grade) -> SafeString:
    """The label stands beside it, so it is hidden from what is read aloud."""
    return format_html(
        '<svg class="sign sign-{}" viewBox="0 0 16 16" aria-hidden="true"><use href="#sign-{}"/></svg>',
        grade.value,
        grade.value,
    )


@register.simple_tag
def grade_icons() -> SafeString:
    """The shapes that `grade_icon` refers to, once for a page."""
    drawn = "".join(
        f'<symbol id="sign-{grade.value}" viewBox="0 0 16 16">{shape}</symbol>'
        for grade, shape in SHAPES.items()
    )
    return SafeString(f'<svg width="0" height="0" aria-hidden="true" class="visually-hidden">{drawn}</svg>')


@register.filter
def help_of(value: Grade | Aspect, kind: str) -> str:
    return f"{kind}-{value.value}"


@register.simple_tag
def explained(name: str, words: object = "") -> SafeString:
    """Leads to what is meant; without words of its own a question mark, with those of the term for who cannot see it.

    Words that have no term are shown as they are.
    """
    if not name:
        return format_html("{}", words)
    term = TERM_OF[name]
    shown = format_html("<span>{}</span>", words) if words else MARK
    hidden = format_html(
        '<span class="visually-hidden">{}</span>', _("{term}: meaning").format(term=term.words)
    )
    return format_html(
        '<a class="{}" href="{}#{}">{}{}</a>',
        "meaning" if words else "explained no-print",
        reverse("screens:help"),
        name,
        shown,
        "" if words else hidden,
    )


@register.filter
def named_faults(form: BaseForm) -> list[tuple[str, str]]:
    """Of a form: the id of the field, and the fault with its name; what belongs to no field in sight has no id."""
    return [
        (form[name].auto_id, f"{form[name].label}: {fault}")
        if name in form.fields and not form[name].is_hidden
        else ("", str(fault))
        for name, faults in form.errors.items()
        for fault in faults
    ]


@register.simple_tag
def telephone(text: str) -> SafeString:
    """To be called with a touch, where it is one number and no words."""
    if not ONE_NUMBER.fullmatch(text):
        return format_html("<strong>{}</strong>", text)
    dialled = "".join(one for one in text if one.isdigit() or one == "+")
    return format_html('<strong><a href="tel:{}">{}</a></strong>', dialled, text)


@register.filter
def aspect_label(value: Aspect) -> str:
    return str(labels.ASPECTS[value])


@register.filter
def chain_name(engagement: Engagement | None) -> str:
    """The chain by its ISO name, with the ASME number where it has one."""
    if engagement is None:
        return _("not recorded")
    standard = find_chain(engagement.designation) if engagement.designation else None
    number = standard.asme_designation if standard else None
    if not number or number == engagement.name:
        return engagement.name
    return _("{chain} (No. {number})").format(chain=engagement.name, number=number)


@register.filter
def size(value: float | Decimal | None) -> str:
    """An inch size as its fraction with mm beside it, any other in mm."""
    return _("not recorded") if value is None else size_text(float(value))


@register.filter
def measured(mm: float | Decimal) -> str:
    """A length that was read or calculated: 8.5 mm, or 0.335 in (8.5 mm)."""
    return length_text(float(mm))


@register.simple_tag
def reads_inches() -> bool:
    return inches_first.get()


@register.filter
def inches(value: float | Decimal) -> str:
    """The fraction of a size that is one in inches, for a column that says so in its head; else empty.

    Whoever reads in inches has every size in them.
    """
    fraction = inch_text(float(value))
    if fraction is None and inches_first.get():
        return inch_decimals(float(value))
    return (fraction or "").removesuffix(" in")


@register.filter
def length_change(mm: float) -> str:
    """With its sign: +1.2 mm, or +0.047 in (+1.2 mm)."""
    written = f"{signed(mm)} mm"
    return f"{signed(mm / MM_PER_INCH, 3)} in ({written})" if inches_first.get() else written


@register.filter
def figure(value: object) -> str:
    """A number with at most four decimals, from 10 up two; a truth as yes or no; a day by language; nothing as a dash."""
    if value is None or value == "":
        return NONE
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, (int, float, Decimal)):
        return localized(f"{float(value):.{2 if abs(float(value)) >= 10 else 4}f}".rstrip("0").rstrip("."))
    if isinstance(value, date):
        return formats.date_format(value, "DATE_FORMAT")
    return labels.label(value)


@register.filter
def check_figure(finding: Finding, name: str) -> str:
    """One figure of a check with its unit; a margin is a difference, so never an inch size with a name."""
    value, unit = getattr(finding, name), unit_of(finding, name)
    if isinstance(value, bool | str) or value is None or not unit:
        return figure(value)
    if unit == "mm":
        return (
            length_text(value, least=CHECK_DECIMALS) if name == "margin" else size_text(value, CHECK_DECIMALS)
        )
    if unit == "share":
        return f"{figure(round(100 * value, 1))} %"
    return f"{figure(value)} {counted_unit(unit, value)}"


def counted_unit(unit: str, number: float) -> str:
    """One tooth, two teeth; a unit of measurement is the same for all."""
    if unit == "teeth":
        return ngettext("tooth", "teeth", abs(round(number)))
    if unit == "strands":
        return ngettext("strand", "strands", abs(round(number)))
    return ngettext("row", "rows", abs(round(number))) if unit == "rows" else unit


@register.filter
def fixed(value: float | Decimal | None, decimals: int) -> str:
    """So many decimals, for columns that line up."""
    return NONE if value is None else localized(f"{float(value):.{decimals}f}")


@register.filter
def signed(value: float | None, decimals: int = 1) -> str:
    return NONE if value is None else localized(f"{value:+.{decimals}f}").replace("-", "−")


@register.filter
def coordinate(value: float) -> str:
    """A place in a drawing; SVG knows only the decimal point."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


@register.filter
def duration(minutes: int | None) -> str:
    """48 min, 1 h 20 min, 2 days 3 h; above an hour rounded up to 5 minutes, above a day to an hour."""
    if minutes is None:
        return _("not known")
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 24 * 60:
        hours, left = divmod(5 * ceil(minutes / 5), 60)
        return f"{hours} h {left} min" if left else f"{hours} h"
    days, hours = divmod(ceil(minutes / 60), 24)
    return ngettext("{days} day", "{days} days", days).format(days=days) + (f" {hours} h" if hours else "")


@register.filter
def usual_time(seconds: float) -> str:
    if seconds < 90:
        return f"{max(round(seconds), 1)} s"
    return f"{round(seconds / 60)} min"


@register.filter
def clock(at: datetime, minutes: int | None) -> str:
    """The time so many minutes after a moment, with the day where it is another one."""
    if minutes is None:
        return ""
    start, end = timezone.localtime(at), timezone.localtime(at + timedelta(minutes=minutes))
    day = "" if start.date() == end.date() else formats.date_format(end, "DATE_FORMAT") + " "
    return day + formats.date_format(end, "TIME_FORMAT")


@register.filter
def available(shelves: Iterable[ShelfStock]) -> list[ShelfStock]:
    return [shelf for shelf in shelves if shelf.available]


@register.filter
def spares(companions: tuple[Companion, ...]) -> str:
    """What need not be fetched, but is replaced when the old one is damaged, with the quantity available."""
    text = _("{part} {size}, {available} available")
    return "; ".join(
        text.format(
            part=labels.label(companion.kind),
            size=sentence(companion.needed),
            available=companion.available or _("none"),
        )
        for companion in companions
        if not companion.must_fetch
    )


@register.filter
def how_often(times_per_year: float | None) -> str:
    if times_per_year is None:
        return _("not known")
    return figures.how_often(times_per_year) if times_per_year > 0 else _("never expected")


@register.filter
def times_a_year(value: float | None) -> str:
    """Three significant digits, down to what can be known at all."""
    if value is None:
        return NONE
    if 0 < value < RAREST_SHOWN:
        return _("below {limit}").format(limit=localized(f"{RAREST_SHOWN:g}"))
    return f"{ShownNumber(value):sig3}"


@register.filter
def percent(share: float | None) -> str:
    """Never rounded up to all of it."""
    if share is None:
        return NONE
    return localized(f"{100.0 if share >= 1 else min(round(100 * share, 2), 99.99):g}")


@register.filter
def plainly(share: float) -> str:
    """Of 100, with three digits."""
    return localized(f"{100 * share:.3g}")


@register.filter
def chance(share: float | None) -> str:
    """Two significant digits without an exponent: 12 %, 0.34 %, below 0.01 %."""
    if share is None:
        return _("not known")
    if 0 < share < 0.0001:
        return _("below {limit} %").format(limit=localized("0.01"))
    return localized(f"{float(f'{100 * share:.2g}'):.10g}") + " %"


@register.filter
def money(value: Decimal | str | None, currency: str = "") -> str:
    """Whole units from ten up."""
    return NONE if value in (None, "") else f"{figures.money(Decimal(str(value)))} {currency}".strip()


@register.filter
def count(value: float | None) -> str:
    """Three significant digits."""
    return NONE if value is None else f"{ShownNumber(value):sig3}"


@register.filter
def hours(value: float | None) -> str:
    return NONE if value is None else localized(f"{value:,.0f}")
