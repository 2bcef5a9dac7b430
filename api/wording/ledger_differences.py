"""Where a stock level, a movement or a reservation is not what the ledger says."""

from collections.abc import Callable

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from api.wording.figures import Sentence, counted, filled
from api.wording.phrases import Values

STOCK: dict[str, Promise] = {
    "on_hand_differs": _("on hand is {found:d}, the ledger says {booked:d}."),
    "reserved_differs": _("reserved is {found:d}, the open reservations hold {booked:d}."),
    "pieces_differ": _("the pieces have {found:d} links together, on hand is {booked:d}."),
    "reserved_not_covered": _("on hand is {found:d}, reserved is {booked:d}."),
}
ENTRIES: dict[str, Promise] = {
    "balance_after_differs": _("the balance is {found:d}, the movements before make it {booked:d}."),
    "reversed_transfer_legs_differ": _("its reversal has {found:d} legs, {booked:d} are expected."),
    "transfer_sum_not_zero": _("the legs of the transfer add up to {found:d}, not to 0."),
    "transfer_items_differ": _("the legs of the transfer are of two items."),
    "reversal_differs": _("it changes {found:d}, the reversal of its entry is {booked:d}."),
    "reversed_more_than_booked": _("its reversals add up to {found:d}, more than {booked:d}."),
    "reference_booked_more_than_once": _("the reference {reference} is booked {found:d} times."),
    "count_change_differs": _("the count changes {found:d}, {booked:d} were counted."),
    "counted_shelf_change_differs": _("the count changes {found:d}, counted less booked is {booked:d}."),
    "entry_without_name": _("it does not name who booked it."),
}
UNITS: dict[str, Promise] = {
    "fitted_unit_on_shelf": _("its unit is fitted at {position}, yet the movement is reversed."),
    "fitted_unit_returned": _(
        "its unit is fitted at {position}, yet all that was issued for the job is returned or fitted elsewhere."
    ),
    "fitted_unit_not_of_issue": _("the unit at {position} cannot have come from it."),
}
RESERVATIONS: dict[str, Promise] = {
    "reservation_exceeded": _("it holds {found:d}, {booked:d} are reserved."),
    "ended_reservation_open": _("it has ended and still holds {found:d}."),
    "reservation_of_ended_kit_open": _("its kit has ended and it still holds {found:d}."),
}


def _transfer_legs(values: Values) -> str:
    text = ngettext_lazy(
        "the transfer has {found:d} leg, {booked:d} are expected.",
        "the transfer has {found:d} legs, {booked:d} are expected.",
        "found",
    )
    return counted(text, "found")(values)


def _placed(place: Promise, texts: dict[str, Sentence]) -> dict[str, Sentence]:
    """Each text after the place that it is about."""
    return {code: filled(place, what=_written(text)) for code, text in texts.items()}


def _written(text: Sentence) -> Callable[[Values], str]:
    return text if callable(text) else lambda values: str(text).format_map(values)


SENTENCES: dict[str, Sentence] = {
    **_placed(_("{item} in {storeroom}, {condition:words}: {what}"), {**STOCK}),
    **_placed(
        _("{item} in {storeroom}, {condition:words}, movement {entry:d}: {what}"),
        {**ENTRIES, **UNITS, "transfer_legs_differ": _transfer_legs},
    ),
    **_placed(
        _("{item} in {storeroom}, {condition:words}, reservation {reservation:d} for {work_order}: {what}"),
        {**RESERVATIONS},
    ),
}
