"""A position: its requirement, what fits, and what does not."""

from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.candidate_groups import (
    CandidateLayout,
    Sources,
    candidate_card,
    grouped_cards,
    lay_out,
    wanted_on_page,
)
from api.screens.charts.chart import file_of
from api.screens.counter.acts import may_book_of
from api.screens.counter.in_hand import job_in_hand, remember
from api.screens.fitting_sheet import fitting_sheet
from api.screens.history import history_of
from api.screens.next_steps import next_steps
from api.screens.page_options import PageOptions, page_options_of
from api.screens.planning.exposure import exposure_of_position
from api.screens.planning.planning_tags import may_decide_of
from api.screens.planning.policies_by_storeroom import policies_by_storeroom
from api.screens.visible_record import visible_or_404
from api.screens.wear_chart import wear_chart
from drives.exposure.item_exposure import item_exposures
from drives.models import Inspection, Position
from drives.substitutes.offers import Offer, RankedOffers, substitutes_for_position
from drives.substitutes.position_requirement import positions_with_requirements
from inventory.interchange.vocabulary import Grade
from inventory.models import Storeroom


@require_safe
@login_required
def position(request: HttpRequest, tag: str) -> HttpResponseBase:
    record = visible_or_404(positions_with_requirements(), "tag", tag)
    with timezone.override(ZoneInfo(record.drive.equipment.area.plant.timezone)):
        storerooms = list(visible_to_caller(Storeroom.objects.select_related("machine_shop")))
        options = page_options_of(request.GET, storerooms)
        answer = substitutes_for_position(
            record,
            here_id=options.counter.pk if options.counter else None,
            at=options.at,
            wanted=wanted_on_page(options),
        )
        context = _context(request, record, options, answer, storerooms)
        if found := file_of(request, context):
            return found
        page = render(request, "screens/position.html", context)
    return remember(page, request, job_in_hand(request).at(record.tag)) if may_book_of(request) else page


def _context(
    request: HttpRequest,
    record: Position,
    options: PageOptions,
    answer: RankedOffers,
    storerooms: list[Storeroom],
) -> dict[str, object]:
    sources = Sources()
    counter_id = options.counter.pk if options.counter else record.drive.equipment.area.plant.storeroom_id
    shown = lay_out(
        answer,
        here_id=counter_id,
        soonest_first=options.order == "ready",
        on_shelf_only=options.shelf_only,
        show_all=options.show_all,
    )
    single = _single(answer, options.part)
    fitted = answer.place.fitted if answer.place else None
    usual = (answer.place.lender or fitted) if answer.place else None
    exposures = item_exposures(_available(single, shown), record.pk, options.at)
    card = candidate_card(single, CandidateLayout(), sources, exposures) if single else None
    work_order = job_in_hand(request).at(record.tag).work_order
    risk_as_of, risk = exposure_of_position(record.pk) or (None, None)
    history = None if single else history_of(record.drive, [record], options.at)
    return {
        "position": record,
        "drive": record.drive,
        "plant": record.drive.equipment.area.plant,
        "answer": answer,
        "required": answer.required,
        "fitted": fitted,
        "policies": policies_by_storeroom(usual.item) if usual and usual.item else [],
        "history": history,
        "wear_chart": history and wear_chart(history),
        "risk": risk,
        "risk_as_of": risk_as_of,
        "wear": _last_wear(record),
        "options": options,
        "storerooms": storerooms,
        "layout": shown,
        "groups": [] if single else grouped_cards(shown, sources, exposures),
        "single": card,
        "sheet": card and fitting_sheet(request, card, record.drive, fitted, work_order),
        "next_steps": next_steps(record, answer, storerooms, options.at, may_book=may_book_of(request)),
        "sources": sources,
        "unfit": Grade.UNFIT,
        "decides": may_decide_of(request),
        "replaced": usual.item.stock_number if usual and usual.item else "",
    }


def _single(answer: RankedOffers, number: str) -> Offer | None:
    """The candidate whose fitting sheet is shown."""
    if not number:
        return None
    for offer in answer.offers:
        if offer.candidate.item.stock_number == number:
            return offer
    raise Http404


def _available(single: Offer | None, shown: CandidateLayout) -> list[int]:
    """The items that could be taken from what is shown in full."""
    offers = [single] if single else [offer for group in shown.groups for offer in group.cards]
    return [
        offer.candidate.item.pk
        for offer in offers
        if offer.candidate.available > 0 and offer.candidate.verdict.grade is not Grade.UNFIT
    ]


def _last_wear(record: Position) -> Inspection | None:
    """The last elongation measured anywhere on the drive."""
    return (
        Inspection.objects.filter(position__drive_id=record.drive_id, elongation_percent__isnull=False)
        .select_related("position")
        .order_by("-at", "-id")
        .first()
    )
