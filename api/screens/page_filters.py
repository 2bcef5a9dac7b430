"""Template filters: numbers, sizes, spans of time and the vocabulary in the words of the trade."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from math import ceil

from django import template
from django.utils import formats, timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from api.screens.candidate_groups import reasons_of
from api.wording.figures import size_text
from api.wording.sentences import sentence, sentences
from drives.substitutes.companions import Companion
from inventory.facts import Fact
from inventory.interchange.requirement import Engagement
from inventory.interchange.vocabulary import Aspect, Grade
from inventory.standards.chains import find_chain
from inventory.standards.sizes import inch_text

register = template.Library()
register.filter("reasons", reasons_of)
register.filter("sentence", sentence)
register.filter("sentences", sentences)


@register.filter
def sources_text(sources: Iterable[Fact]) -> str:
    return "; ".join(sentence(source) for source in sources)


GRADES = {
    Grade.DROP_IN: ("Drop-in", "goes on with hand tools and what came with the old one"),
    Grade.WITH_WORK: ("With work", "fits once the work named has been done"),
    Grade.NEEDS_REVIEW: ("For review", "would run, but an engineer answers for what it changes"),
    Grade.UNFIT: ("Must not go on", "will not run, or must not"),
}
SHAPES = {
    Grade.DROP_IN: '<circle cx="8" cy="8" r="6.6"/>',
    Grade.WITH_WORK: '<path d="M1.8 1.8h12.4v12.4H1.8z"/><path class="full" d="M1.8 8h12.4v6.2H1.8z"/>',
    Grade.NEEDS_REVIEW: '<path d="M8 1.6 15 14.4H1z"/><path d="M8 6v4.2M8 11.6v1.2"/>',
    Grade.UNFIT: '<path d="M1.8 1.8h12.4v12.4H1.8zM3 3l10 10M13 3 3 13"/>',
}
ASPECTS = {
    Aspect.KEY: "Key and keyway",
    Aspect.HUB: "Hub and length",
    Aspect.ENVELOPE: "Room",
    Aspect.RATING: "Chain rating",
    Aspect.MOUNTING: "Bore on shaft",
}
WORDS = {
    "A": "A, no hub",
    "B": "B, hub on one side",
    "C": "C, hub on both sides",
    "plain": "plain",
    "pin": "plain pin",
    "finished": "finished to size",
    "tapered": "for a taper bush",
    "qd": "for a QD bushing",
    "hot": "hot",
    "clean_dry": "clean and dry",
    "ok": "passes",
    "work": "needs work",
    "review": "for review",
    "no": "does not fit",
    "stream": "oil stream",
    "used_serviceable": "used, serviceable",
    "copied_from_fitted": "copied from what was fitted",
    "stated": "stated by an engineer or a drawing",
}
FULL_HOUR, A_DAY = 60, 24 * 60


@register.filter
def word(value: object) -> str:
    """A word of the vocabulary as people say it."""
    text = value.value if isinstance(value, StrEnum) else str(value or "")
    return WORDS.get(text, text.replace("_", " "))


@register.filter
def words(values: object) -> str:
    listed = (
        sorted(word(value) for value in values) if isinstance(values, (list, tuple, frozenset, set)) else []
    )
    return ", ".join(listed)


@register.filter
def grade_word(grade: Grade) -> str:
    return GRADES[grade][0]


@register.filter
def grade_means(grade: Grade) -> str:
    return GRADES[grade][1]


@register.filter
def sign(grade: Grade) -> SafeString:
    """The silhouette of a grade; the word stands beside it, so it is hidden from what is read aloud."""
    return format_html(
        '<svg class="sign sign-{}" viewBox="0 0 16 16" aria-hidden="true"><use href="#sign-{}"/></svg>',
        grade.value,
        grade.value,
    )


@register.simple_tag
def signs() -> SafeString:
    """The silhouettes, once for a page."""
    drawn = "".join(
        f'<symbol id="sign-{grade.value}" viewBox="0 0 16 16">{shape}</symbol>'
        for grade, shape in SHAPES.items()
    )
    return SafeString(f'<svg width="0" height="0" aria-hidden="true" class="visually-hidden">{drawn}</svg>')


@register.filter
def aspect(value: Aspect) -> str:
    return ASPECTS.get(value, word(value).capitalize())


@register.filter
def chain(engagement: Engagement | None) -> str:
    """The chain by its ISO name, with the ASME number where it has one."""
    if engagement is None:
        return "not recorded"
    standard = find_chain(engagement.designation) if engagement.designation else None
    number = standard.asme_designation if standard else None
    return f"{engagement.name} (No. {number})" if number and number != engagement.name else engagement.name


@register.filter
def size(value: float | Decimal | None) -> str:
    """An inch size as its fraction with mm beside it, any other in mm."""
    return "not recorded" if value is None else size_text(float(value))


@register.filter
def inches(value: float | Decimal) -> str:
    """The fraction of a size that is one in inches, for a column that says so in its head; else empty."""
    return (inch_text(float(value)) or "").removesuffix(" in")


@register.filter
def figure(value: object) -> str:
    """A number without idle decimals; a truth as yes or no; nothing as a dash."""
    if value is None or value == "":
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float, Decimal)):
        return f"{float(value):.4f}".rstrip("0").rstrip(".")
    return str(value).replace("_", " ")


@register.filter
def fixed(value: float | Decimal | None, decimals: int) -> str:
    """So many decimals, for columns that line up."""
    return "–" if value is None else f"{float(value):.{decimals}f}"


@register.filter
def signed(value: float | None, decimals: int = 1) -> str:
    return "–" if value is None else f"{value:+.{decimals}f}".replace("-", "−")


@register.filter
def span(minutes: int | None) -> str:
    """A span of time as it is said: 48 min, 1 h 20 min, 2 days 3 h."""
    if minutes is None:
        return "not known"
    if minutes < FULL_HOUR:
        return f"{minutes} min"
    if minutes < A_DAY:
        hours, left = divmod(5 * ceil(minutes / 5), FULL_HOUR)
        return f"{hours} h {left} min" if left else f"{hours} h"
    days, hours = divmod(ceil(minutes / FULL_HOUR), 24)
    return f"{days} day{'s' if days > 1 else ''}" + (f" {hours} h" if hours else "")


@register.filter
def standby(companions: tuple[Companion, ...]) -> str:
    """What need not be fetched but may be wanted when the old one is spoilt, with what is free of it."""
    return "; ".join(
        f"{word(companion.kind)} {sentence(companion.needed)}, {companion.available or 'none'} free"
        for companion in companions
        if not companion.must_fetch
    )


@register.filter
def share(chance: float) -> str:
    """A chance in percent, a small one not as nothing."""
    if 0 < chance < 0.001:
        return "less than 0.1 %"
    return f"{100 * chance:.0f} %" if chance >= 0.1 else f"{100 * chance:.2g} %"


@register.filter
def clock(at: datetime, minutes: int | None) -> str:
    """The clock so many minutes after a moment, with the day where it is another one."""
    if minutes is None:
        return ""
    start, end = timezone.localtime(at), timezone.localtime(at + timedelta(minutes=minutes))
    day = "" if start.date() == end.date() else formats.date_format(end, "D j M") + " "
    return day + formats.date_format(end, "H:i")
