"""Why a message of the work-order system waits or is refused, and what to do next."""

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.wording.figures import Sentence, Shown


def _record_not_found(values: Mapping[str, Shown]) -> str:
    texts = {
        "position": _('There is no position "{name}": record it, or correct the message.'),
        "equipment": _('There is no equipment "{name}": record it, or correct the message.'),
        "item": _('There is no item "{name}": record it, or correct the message.'),
        "storeroom": _('There is no storeroom "{name}": record it, or correct the message.'),
    }
    text = texts.get(values["kind"], _('There is no {kind} "{name}": record it, or correct the message.'))
    return text.format_map(values)


SENTENCES: dict[str, Sentence] = {
    "record_not_found": _record_not_found,
    "storeroom_not_named": gettext_lazy(
        "No storeroom is named and none serves the plant: name one, or give the plant its own."
    ),
    "work_order_not_known_yet": gettext_lazy(
        "The work order of these parts is not known yet: they wait for its message."
    ),
    "booked_for_order_before": gettext_lazy(
        "{item}: {pieces} booked for {work_order} before, by movement {movement}. The list of the order counts them, so they "
        "were not booked again."
    ),
    "order_has_booked": gettext_lazy(
        "The work-order system has booked {item} for {work_order} already: {pieces} by movement {movement}. If these are the same "
        "pieces, reverse one of the two movements."
    ),
    "no_unit_fitted_then": gettext_lazy(
        "No unit is recorded at {position} on {at_on}: record what was fitted there, then try again."
    ),
    "meter_below_earlier_reading": gettext_lazy(
        "hours is {hours:,.1f}, but the meter of {position} showed {earlier_hours:,.1f} on {earlier_on}: send is_reset true with the "
        "first reading of a new meter, or correct the hours."
    ),
    "meter_above_later_reading": gettext_lazy(
        "hours is {hours:,.1f}, but the meter of {position} showed {later_hours:,.1f} later, on {later_on}: correct the hours, or "
        "send is_reset true with the later reading first."
    ),
    "message_not_waiting": gettext_lazy("This message does not wait: its outcome is {outcome:words}."),
    "message_already_counts": gettext_lazy(
        "This message counts already, except for what it waits for: correct that and retry, or let its source send a newer version."
    ),
}
