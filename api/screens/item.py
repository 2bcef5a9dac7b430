"""An item: its stock, its dimensions, where it is fitted, its substitutes."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.candidate_groups import Sources, grouped_cards, lay_out, wanted_on_page
from api.screens.drawings.sprocket import drawn_sprocket
from api.screens.drawings.sprocket_views import views_of
from api.screens.page_options import PageOptions, page_options_of
from api.screens.part_dimensions import lengths_of, measures_of
from api.screens.planning.policies_by_storeroom import policies_by_storeroom
from api.screens.visible_record import visible_or_404
from drives.duplicates.stored import is_in_open_group
from drives.models import Installation
from drives.substitutes.offers import RankedOffers, substitutes_for_item
from inventory.catalogue.stock_on_hand import load_stock_of_items
from inventory.interchange.vocabulary import Grade
from inventory.models import AVAILABLE_CONDITIONS, Item, PartKind, Specification, StockLevel, StockPiece
from inventory.stores.lead_times import lead_times_of
from inventory.stores.open_orders import open_orders

MOST_FITTED = 50
MOST_OLD_NUMBERS = 20
EVERYWHERE = 0
"""No storeroom: lead times are those of all."""


@require_safe
@login_required
def item(request: HttpRequest, number: str) -> HttpResponse:
    part = visible_or_404(
        Item.objects.select_related("specification", "replaced_by", "merged_into"), "stock_number", number
    )
    options = page_options_of(request.GET, [])
    answer = substitutes_for_item(part, here_id=None, at=options.at, wanted=wanted_on_page(options))
    return render(request, "screens/item.html", _context(part, options, answer))


def _context(part: Item, options: PageOptions, answer: RankedOffers) -> dict[str, object]:
    sources = Sources()
    shown = lay_out(
        answer,
        here_id=None,
        soonest_first=False,
        on_shelf_only=options.shelf_only,
        show_all=options.show_all,
    )
    record = part.specification
    return {
        "part": part,
        "record": record,
        "is_sprocket": record is not None and record.kind == PartKind.SPROCKET,
        "is_chain": record is not None and record.kind == PartKind.CHAIN,
        "old_numbers": part.merged_numbers.order_by("stock_number")[:MOST_OLD_NUMBERS],
        "is_duplicate": is_in_open_group(part),
        "policies": policies_by_storeroom(part),
        "similar": (record and (record.bush_size or record.chain_designation)) or part.description,
        "answer": answer,
        "options": options,
        "layout": shown,
        "groups": grouped_cards(shown, sources),
        "sources": sources,
        "unfit": Grade.UNFIT,
        **_dimensions(record),
        **_stock(part, options),
        **_fitted(part),
    }


def _dimensions(record: Specification | None) -> dict[str, object]:
    drawn = drawn_sprocket(record)
    form = drawn.form if drawn else None
    front, section = views_of(drawn) if drawn else (None, None)
    return {
        "lengths": lengths_of(record),
        "drawn": drawn,
        "front": front,
        "section": section,
        "form": form,
        "is_odd": form is not None and form.teeth % 2 == 1,
        "measures": measures_of(form),
    }


def _stock(part: Item, options: PageOptions) -> dict[str, object]:
    shelves = load_stock_of_items([part.pk]).of_item(part.pk)
    lead_times = None if shelves else lead_times_of([part.pk], EVERYWHERE, options.at)
    return {
        "shelves": shelves,
        "may_be_found_there": any(one.condition in AVAILABLE_CONDITIONS for one in shelves),
        "on_order": open_orders([part.pk], options.at).get(part.pk, ()),
        "lead_time": lead_times and lead_times.of(part.pk, EVERYWHERE),
        "pieces": visible_to_caller(StockPiece.objects.all())
        .filter(level__in=StockLevel.objects.of_item(part), links__gt=0)
        .select_related("level__storeroom")
        .order_by("level__storeroom__code", "-links", "id"),
    }


def _fitted(part: Item) -> dict[str, object]:
    fitted = (
        visible_to_caller(Installation.objects.still_fitted())
        .filter(item=part)
        .select_related("position__drive__equipment")
        .order_by("position__tag")
    )
    count = fitted.count()
    return {
        "fitted": fitted[:MOST_FITTED],
        "fitted_count": count,
        "fitted_left_out": max(count - MOST_FITTED, 0),
    }
