"""What the office has to see to today."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial

from django.db.models import F
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.edge.scope import visible_to_caller
from api.screens.planning.comparison import shortages_avoided
from api.screens.today.counter_sections import message_line, messages_address, messages_waiting
from api.screens.today.lines import (
    SHOWN,
    SOON,
    Line,
    Section,
    day_of,
    delivery_line,
    item_link,
    list_address,
    orders_due,
    section,
    section_of,
    words,
)
from api.wording.figures import money
from drives.figures.deliveries import wear_due
from drives.figures.figure import FigureRow
from drives.lessons.stop_costs import StopCost, most_expensive_stops
from drives.models import Installation, WorkOrder, WorkOrderStatus
from inventory.models import Recommendation, RecommendationState

NO_STOP = StopCost(0.0, "")


def office_sections(today: date) -> Iterator[Section]:
    short = WorkOrder.objects.filter(status=WorkOrderStatus.OPEN, was_ready=False).select_related("position")
    yield section(
        gettext_lazy("Jobs whose parts are not there"),
        short.order_by(F("needed_by").asc(nulls_last=True), "pk"),
        _job,
        reverse("screens:jobs"),
    )
    yesterday = today - timedelta(days=1)
    yield section(
        gettext_lazy("Late orders"),
        orders_due(yesterday),
        delivery_line,
        list_address("orders", status="open", promised_on__lte=str(yesterday), ordering="promised_on"),
    )
    yield _to_decide()
    yield from _units_ending(today)
    yield _chains_ending(timezone.now())
    yield _missing_data()
    yield section(
        gettext_lazy("Messages waiting for a record"), messages_waiting(), message_line, messages_address()
    )


def _to_decide() -> Section:
    """By the cost a year of the stops that each would avoid."""
    rows = visible_to_caller(Recommendation.objects.waiting()).order_by()
    pieces = "evidence__figures__pieces_per_job"
    found = list(
        rows.values_list(
            "pk", "item_id", "rate_per_year", "today", "expected_stockouts_per_year", pieces, named=True
        )
    )
    costs = most_expensive_stops({row.item_id for row in found})
    at_risk: dict[int, StopCost] = {}
    for row in found:
        avoided = shortages_avoided(
            row.rate_per_year,
            row.today,
            expected_stockouts_per_year=row.expected_stockouts_per_year,
            pieces_per_job=getattr(row, pieces),
        )
        stop = costs.get(row.item_id, NO_STOP)
        at_risk[row.pk] = StopCost(stop.amount * avoided, stop.currency)
    worst = sorted(at_risk, key=lambda pk: (-at_risk[pk].amount, pk))
    lines = tuple(_decision(one, at_risk[one.pk]) for one in _in_order(worst[:SHOWN]))
    title = gettext_lazy("To decide, by money at risk")
    return Section(title, len(found), lines, reverse("screens:decisions"), term="money-at-risk")


def _missing_data() -> Section:
    """By the cost of a stop of the drive that the part is for."""
    rows = Recommendation.objects.filter(state=RecommendationState.OPEN, is_answered=False)
    items = dict(visible_to_caller(rows).order_by().values_list("pk", "item_id"))
    costs = most_expensive_stops(set(items.values()))
    worst = sorted(items, key=lambda pk: (-costs.get(items[pk], NO_STOP).amount, pk))
    lines = tuple(_decision(one) for one in _in_order(worst[:SHOWN]))
    address = reverse("screens:decisions") + "?show=unanswered"
    return Section(gettext_lazy("Not recommended: data is missing"), len(items), lines, address)


def _in_order(keys: list[int]) -> Iterable[Recommendation]:
    found = Recommendation.objects.with_places().defer("evidence").in_bulk(keys)
    return (found[pk] for pk in keys if pk in found)


def _units_ending(today: date) -> Iterator[Section]:
    fitted = Installation.objects.still_fitted().select_related("position", "item")
    yield section(
        gettext_lazy("Units that await approval"),
        fitted.filter(awaits_approval=True).order_by("installed_at", "pk"),
        _unapproved,
        list_address("installations", fitted="true", awaits_approval="true", ordering="installed_at"),
    )
    # A temporary unit that awaits its approval stands above, not here too.
    approved = {"awaits_approval": "false"}
    for title, field, more in (
        (gettext_lazy("Temporary units ending"), "temporary_until", approved),
        (gettext_lazy("Inspections due"), "inspect_by", {}),
    ):
        last = str(today + SOON)
        ending = fitted.filter(awaits_approval=False) if more else fitted
        rows = ending.filter(**{f"{field}__lte": last}).order_by(field, "pk")
        asked = {"fitted": "true", f"{field}__lte": last, **more}
        every = list_address("installations", ordering=field, **asked)
        yield section(title, rows, partial(_unit, field=field), every)


def _chains_ending(now: datetime) -> Section:
    """The chain runs over all positions of its drive: one line for each drive."""
    due: dict[str, FigureRow] = {}
    for row in wear_due(now, days=SOON.days).rows:
        due.setdefault(row.drive, row)
    return section_of(
        gettext_lazy("Chain at its wear limit within 30 days"),
        list(due.values()),
        partial(_chain, today=timezone.localdate(now)),
        reverse("screens:figure", args=["wear_due"]),
    )


def _chain(row: FigureRow, today: date) -> Line:
    is_past = row.on is not None and row.on < today
    said = _("limit passed about {day}") if is_past else _("limit reached about {day}")
    return Line(row.drive, reverse("screens:drive", args=[row.drive]), said.format(day=day_of(row.on)))


def _job(job: WorkOrder) -> Line:
    """The number leads to the place, the act to what is missing and by when it has to be ordered."""
    place, missing = job.position, f"{reverse('screens:jobs')}?job={job.pk}#job-{job.pk}"
    address = reverse("screens:position", args=[place.tag]) if place else missing
    said = words(day_of(job.needed_by), job.title, place and place.tag)
    return Line(job.external_id, address, said, _("What is missing"), missing)


def _decision(one: Recommendation, at_risk: StopCost = NO_STOP) -> Line:
    amount = money(Decimal(at_risk.amount))
    cost = _("stops of up to {amount} {currency} a year").format(amount=amount, currency=at_risk.currency)
    return Line(
        *item_link(one.item),
        words(one.storeroom.code, one.item.description, cost if at_risk.amount > 0 else ""),
        _("Decide") if one.is_answered else _("What is missing"),
        reverse("screens:recommendation", args=[one.pk]),
    )


def _unapproved(unit: Installation) -> Line:
    since = _("since {day}").format(day=day_of(timezone.localdate(unit.installed_at)))
    return _unit_line(unit, words(since, unit.installed_why), _("Approve"))


def _unit(unit: Installation, field: str) -> Line:
    """A temporary unit is replaced, or approved for longer."""
    act = _("Approve for longer") if field == "temporary_until" else ""
    return _unit_line(unit, day_of(getattr(unit, field)), act)


def _unit_line(unit: Installation, said: str, act: str) -> Line:
    number = unit.item.stock_number if unit.item else ""
    place = reverse("screens:position", args=[unit.position.tag])
    settled = reverse("screens:approve", args=[unit.pk]) + "?then=/"
    return Line(unit.position.tag, place, words(said, number), act, settled if act else "")
