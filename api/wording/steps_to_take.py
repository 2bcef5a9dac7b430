"""What can be done now where nothing that fits is available. A text that begins small follows a link."""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from api.wording.figures import Sentence, counted

SENTENCES: dict[str, Sentence] = {
    "no_fit_available": _("Nothing that fits is available in stock."),
    "no_fit_in_catalogue": _("Nothing in the catalogue fits this position."),
    "no_substitute_for_lifting_drive": _("This is a lifting drive: no substitute is offered."),
    "ready_time_not_known": _("The time until the drive runs is not known."),
    "hoist_person_decides": _(
        "The person responsible for the hoist decides, from its papers and the maker's parts list. Take it out of use until then."
    ),
    "nearest_parts_for_hoist_person": _(
        "The nearest parts are listed below for that person only, with every check."
    ),
    "companion_to_order": _("not available, or not in one piece. See what is in stock, and order it."),
    "part_can_be_fetched": _("The part itself can be fetched now."),
    "storeroom_knows_the_time": _("Ask the storeroom for the time: it is not recorded."),
    "pieces_on_hold_here": counted(
        ngettext_lazy(
            "{count} piece in {place}, on hold. Find out why before you take it: it may not be what its number says.",
            "{count} pieces in {place}, on hold. Find out why before you take it: it may not be what its number says.",
            "count",
        )
    ),
    "pieces_reserved_here": counted(
        ngettext_lazy(
            "{count} piece in {place}, reserved. Ask who reserved it whether this breakdown goes first.",
            "{count} pieces in {place}, reserved. Ask who reserved it whether this breakdown goes first.",
            "count",
        )
    ),
    "on_order_for_day": _("{pieces} on order for {storeroom} ({order}), promised for {promised_on}."),
    "on_order_overdue": counted(
        ngettext_lazy(
            "{pieces} on order for {storeroom} ({order}), promised for {promised_on}: overdue by {overdue_days} day. Ask purchasing.",
            "{pieces} on order for {storeroom} ({order}), promised for {promised_on}: overdue by {overdue_days} days. Ask purchasing.",
            "overdue_days",
        ),
        "overdue_days",
    ),
    "on_order_without_date": _(
        "{pieces} on order for {storeroom} ({order}) since {ordered_on}, no day promised. Ask purchasing."
    ),
    "order_the_part": _(
        "order it (about {days:.0f} days), by its attributes so that any maker can supply it."
    ),
    "order_the_part_without_lead_time": _(
        "order it (lead time not recorded), by its attributes so that any maker can supply it."
    ),
    "order_by_requirement": _("Order by the requirement above: any maker of sprockets can quote for it."),
    "record_as_asked_for": _("so that planning counts that a part was needed here."),
    "take_from_idle_machine": _("take it from a machine that stands idle."),
    "change_both_sprockets_later": _(
        "later, with an engineer: changing both sprockets together may keep the ratio."
    ),
    "ask_machine_shop": _("Ask the machine shop whether one can be made, and by when: {shop}."),
    "none_in_many_other_storerooms": _(
        "None on record in {storerooms} other storerooms either. Ask the shift whether one lies in a locker."
    ),
    "none_in_other_storerooms": _(
        "None on record in {storerooms} either. Ask the shift whether one lies in a locker."
    ),
}
