"""Template filters for how many to keep: service, money, shares and evidence in the words of the trade."""

from datetime import datetime
from decimal import Decimal

from django import template
from django.http import HttpRequest

from api.edge.auth import roles_of
from api.models import Role
from api.wording import figures
from api.wording.figures import RAREST_SHOWN, ShownNumber

register = template.Library()

IMPORTANCES = {"vital": "Vital", "essential": "Essential", "desirable": "Desirable", "unknown": "Not classed"}
MODELS = {
    "weibull_renewal": "the ages of the units",
    "gamma_poisson": "counted events",
    "intermittent": "a series of months",
    "none": "nothing was asked for",
}
SOURCES = {
    "request": "asked for",
    "issue": "booked out, nobody wrote a request",
    "removal": "a unit was renewed, no paper for the part",
}
RESULTS = {
    "filled": "given",
    "filled_by_substitute": "a substitute given",
    "partly": "given in part",
    "not_filled": "not there",
    "not_stocked": "not kept",
    "": "not recorded",
}
COUNTS_AS = {
    "running": "still running: a life that goes on",
    "worn_out": "wore out: an end seen",
    "sudden": "ended suddenly: an event, no wear",
    "censored": "taken out for another reason: it could have gone on",
    "left_out": "hours not known: left out",
}
TARGETS = {
    "fill_rate": "of what is asked for is met from the shelf",
    "cycle_service_level": "of lead times pass without a shortage",
    "no_backorder": "of the time nothing is owed",
}


PAGES = (
    ("screens:decisions", "What needs a decision"),
    ("screens:exposure", "Where a stop finds nothing"),
    ("screens:budget", "What money buys"),
    ("screens:reorder", "To order"),
    ("screens:backtest", "Would it have been enough"),
)


@register.inclusion_tag("planning/tabs.html")
def planning_tabs(here: str) -> dict[str, object]:
    return {"pages": PAGES, "here": here}


def may_decide_of(request: HttpRequest) -> bool:
    """Only managers decide; whoever is logged in may read."""
    return Role.MANAGER in roles_of(request)


@register.simple_tag(takes_context=True)
def may_decide(context: template.Context) -> bool:
    request = context.get("request")
    return request is not None and hasattr(request, "user") and may_decide_of(request)


@register.filter
def importance_word(value: str) -> str:
    return IMPORTANCES.get(value, value)


@register.filter
def model_word(value: str) -> str:
    return MODELS.get(value, value.replace("_", " "))


@register.filter
def source_word(value: str) -> str:
    return SOURCES.get(value, value)


@register.filter
def result_word(value: str) -> str:
    return RESULTS.get(value, value.replace("_", " "))


@register.filter
def counts_as_word(value: str) -> str:
    return COUNTS_AS.get(value, value.replace("_", " "))


@register.filter
def target_word(kind: str) -> str:
    return TARGETS.get(kind, kind.replace("_", " "))


@register.filter
def how_often(times_per_year: float | None) -> str:
    """How often a shelf runs out, for a column headed so."""
    if times_per_year is None:
        return "not known"
    return figures.how_often(times_per_year) if times_per_year > 0 else "never expected"


@register.filter
def rare(times_per_year: float | None) -> str:
    """Three digits that matter, down to what can be known at all."""
    if times_per_year is None:
        return "–"
    return (
        f"{ShownNumber(times_per_year):sig3}"
        if not 0 < times_per_year < RAREST_SHOWN
        else f"below {RAREST_SHOWN:g}"
    )


@register.filter
def pieces(unit: str) -> str:
    """What a part is counted in."""
    return {"each": "pieces", "link": "links"}.get(unit, unit)


@register.filter
def percent(share: float | None) -> str:
    """Never rounded up to all of it."""
    if share is None:
        return "–"
    return f"{100.0 if share >= 1 else min(round(100 * share, 2), 99.99):g}"


@register.filter
def chance(share: float | None) -> str:
    """A chance in two digits that matter, without an exponent: 12 %, 0.34 %, below 0.01 %."""
    if share is None:
        return "not known"
    if 0 < share < 0.0001:
        return "below 0.01 %"
    return f"{float(f'{100 * share:.2g}'):.10g} %"


@register.filter
def money(value: Decimal | str | None, currency: str = "") -> str:
    """Whole units from ten up; a dash where it is not known."""
    return "–" if value in (None, "") else f"{figures.money(Decimal(str(value)))} {currency}".strip()


@register.filter
def count(value: float | None) -> str:
    """Three digits that matter, thousands apart."""
    return "–" if value is None else f"{ShownNumber(value):sig3}"


@register.filter
def hours(value: float | None) -> str:
    return "–" if value is None else f"{value:,.0f}"


@register.filter
def usual_time(seconds: float) -> str:
    """How long something takes, as a person would say it."""
    if seconds < 90:
        return f"{max(round(seconds), 1)} s"
    return f"{round(seconds / 60)} min"


@register.filter
def day(value: str | None) -> datetime | None:
    """A moment as evidence writes it, for the date filter."""
    return datetime.fromisoformat(value) if value else None


@register.filter
def coordinate(value: float) -> str:
    """A place in a drawing, short."""
    return f"{value:.1f}".rstrip("0").rstrip(".")
