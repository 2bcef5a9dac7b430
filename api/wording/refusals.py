"""Refusals of the writers of stock and records: what cannot be recorded, and what to do next."""

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from api.wording.figures import Sentence, Shown, filled, listed
from drives.models.history import EndedBy


def _pieces(values: Mapping[str, Shown]) -> str:
    lengths = values["piece_links"]
    return _("there are pieces of {lengths}").format(lengths=lengths) if lengths else _("there is none")


def _joints(count: Shown) -> str:
    return ngettext("{count} joint", "{count} joints", count).format(count=count) if count else _("none")


def _others(values: Mapping[str, Shown]) -> Shown:
    return values["reservations"] or _("other work")


def _ends(values: Mapping[str, Shown]) -> Shown:
    """As the form offers them; the schema has the name of the place alone."""
    ends = values["allowed"]
    return listed([str(EndedBy(end).label) for end in ends]) if isinstance(ends, tuple) else ends


VALUES: dict[str, Sentence] = {
    "moment_without_offset": gettext_lazy("{field} needs a time offset, such as 2024-03-04T06:30:00+01:00."),
    "moment_implausible": gettext_lazy("{field} is before {earliest_year}: which year is meant?"),
    "moment_in_future": gettext_lazy(
        "{field} is in the future: record what has happened, at most {tolerance_minutes} minutes ahead."
    ),
    "text_with_zero_character": gettext_lazy("{field} must not contain a zero character."),
    "text_too_long": gettext_lazy(
        "{field} must have at most {limit_characters} characters; this has {characters}."
    ),
    "too_many_digits": gettext_lazy("{field} must have at most {limit_digits} digits."),
    "too_many_decimal_places": gettext_lazy("{field} must have at most {limit_digits} decimal places."),
    "too_many_whole_digits": gettext_lazy(
        "{field} must have at most {limit_digits} digits before the point."
    ),
    "quantity_out_of_range": gettext_lazy(
        "{field} must be a whole number from {least} to {greatest}, not {given}."
    ),
    "value_negative": gettext_lazy("{field} must be 0 or more."),
    "value_below_least": gettext_lazy("{field} must be {least} or more."),
    "value_not_valid": gettext_lazy("{field}: {given} is not valid ({rule})."),
    "word_not_known": gettext_lazy("{field} must be one of {allowed}."),
    "currency_not_three_capitals": gettext_lazy("currency must be three capital letters, such as EUR."),
}

MOVEMENTS: dict[str, Sentence] = {
    "recorder_missing": gettext_lazy("Say who books this: a user or a name."),
    "reason_code_not_for_kind": gettext_lazy("reason_code belongs to a return, a count or a scrap."),
    "stock_on_hold_not_issued": gettext_lazy(
        "Stock on hold cannot be issued: transfer it to another condition first."
    ),
    "override_not_for_kind": gettext_lazy("Only an issue or a count can override reservations."),
    "override_only_for_corrective_work": gettext_lazy(
        "{work_order} is not corrective work: it cannot override reservations."
    ),
    "counted_not_for_kind": gettext_lazy("counted belongs to a count: give quantity."),
    "unit_cost_out_of_range": gettext_lazy("unit_cost must be from 0 to {greatest}."),
    "pieces_not_for_kind": gettext_lazy("pieces says what came in: it belongs to a receipt or a return."),
    "pieces_do_not_add_up": gettext_lazy("The pieces add up to {links} links, the quantity is {quantity}."),
    "item_not_in_links": gettext_lazy("{item} is counted by the piece, not in links."),
    "piece_not_for_kind": gettext_lazy("What comes in becomes a new piece: give pieces instead."),
    "to_storeroom_missing": gettext_lazy("Say where it goes: give to_storeroom."),
    "to_storeroom_not_for_kind": gettext_lazy("to_storeroom belongs to a transfer."),
    "transfer_to_same_place": gettext_lazy("It is there already: give another storeroom or condition."),
    "bin_in_other_storeroom": gettext_lazy(
        "Bin {bin} is not in storeroom {storeroom}: choose one of its own."
    ),
    "reference_already_booked": gettext_lazy(
        "Reference {reference} is booked already with another {differs}: give this movement a reference of its own."
    ),
    "piece_not_here": filled(gettext_lazy("That piece is not here: {pieces}."), pieces=_pieces),
    "piece_too_short": filled(
        gettext_lazy("That piece has {links} links, {quantity} are requested: {pieces}."), pieces=_pieces
    ),
    "no_piece_long_enough": filled(
        gettext_lazy(
            "No single piece of {item} in {storeroom} has {quantity} links: {pieces}. Allow pieces to be joined, or issue fewer."
        ),
        pieces=_pieces,
    ),
    "too_many_joints": filled(
        gettext_lazy(
            "{quantity} links of {item} in {storeroom} need {needed}, and a chain may have {allowed} here (chain_joints of the "
            "stocking terms): {pieces}. Order a longer piece, or take one from another storeroom."
        ),
        needed=lambda values: _joints(values["joints"]),
        allowed=lambda values: _joints(values["chain_joints"]),
        pieces=_pieces,
    ),
    "no_piece_to_reserve": filled(
        gettext_lazy(
            "Beside what is reserved, {quantity} links of {item} cannot be cut in {storeroom}; joints allowed: {allowed} "
            "(chain_joints of the stocking terms): {pieces}. Reserve each chain by itself."
        ),
        allowed=lambda values: values["chain_joints"] or _("none"),
        pieces=_pieces,
    ),
    "piece_shorter_since_seen": gettext_lazy("The piece has {links} links by now: count it again."),
    "counted_piece_not_named": filled(gettext_lazy("Say which piece was counted: {pieces}."), pieces=_pieces),
    "stock_level_too_high": gettext_lazy("A shelf cannot have more than {greatest}: is the number right?"),
    "stock_short": gettext_lazy(
        "{item} in {storeroom}: {requested} requested, {available} available ({on_hand} on hand, {reserved} reserved). Take "
        "fewer, count the shelf, or take from another storeroom."
    ),
    "stock_reserved": filled(
        gettext_lazy(
            "{item} in {storeroom}: {requested} requested, {available} available; the rest is reserved for {others}. Release a "
            "reservation, take fewer, or take from another storeroom."
        ),
        others=_others,
    ),
    "reserved_for_work_order": gettext_lazy("{work_order} ({quantity})"),
    "count_below_zero": gettext_lazy(
        "The book has {on_hand} by now, too few for that change: count the shelf again."
    ),
    "count_below_reserved": filled(
        gettext_lazy(
            "{counted} counted, which leaves {left}, but {reserved} are reserved for {others}. Release a reservation first, then "
            "count again."
        ),
        others=_others,
    ),
    "reversal_reason_missing": gettext_lazy("Say what was wrong with the movement: give reason."),
    "movement_is_a_reversal": gettext_lazy(
        "This entry reverses another one and cannot be reversed: book the movement again instead."
    ),
    "movement_already_reversed": gettext_lazy("Movement {movement} is reversed already."),
    "reversal_above_what_is_left": gettext_lazy(
        "{requested} cannot be reversed: {left} of movement {movement} are left."
    ),
    "count_reversed_whole": gettext_lazy(
        "A count is reversed as a whole: leave quantity out, or count the shelf again."
    ),
    "count_changed_nothing": gettext_lazy("This count changed nothing: there is nothing to reverse."),
}

MOVEMENT_MEMBERS: dict[str, Sentence] = {
    "movement_needs_member": gettext_lazy("A movement of kind {kind:words} needs {member}."),
    "member_not_of_movement": gettext_lazy("{member} does not belong to a movement of kind {kind:words}."),
    "reason_not_of_movement": gettext_lazy(
        "The reason of a movement of kind {kind:words} is one of: {allowed}."
    ),
    "return_is_put_on_hold": gettext_lazy(
        "What comes back as {reason_code:words} is put on hold first: leave condition out."
    ),
    "too_many_pieces_at_once": gettext_lazy("At most {most} pieces come in with one movement."),
}

RESERVATIONS: dict[str, Sentence] = {
    "reservation_without_work_order": gettext_lazy(
        "Say which work order it is reserved for: give work_order."
    ),
    "condition_not_reservable": gettext_lazy(
        "Only stock in one of these conditions can be reserved: {allowed:words}."
    ),
    "expiry_in_past": gettext_lazy("expires_at is in the past: give a later moment, or leave it out."),
    "reservation_ended": gettext_lazy(
        "The reservation for {work_order} has ended already: it is {state:words}."
    ),
    "issued_after_reservation_ended": gettext_lazy(
        "The reservation for {work_order} had ended already ({state:words}): available stock was issued."
    ),
    "kit_without_work_order": gettext_lazy("Say which job the parts are for: give work_order."),
    "kit_without_lines": gettext_lazy("A kit needs at least one line."),
    "kit_exists": gettext_lazy("{work_order} has a kit in {storeroom} already: use that one."),
    "kit_ended": gettext_lazy("The kit of {work_order} has ended already: it is {state:words}."),
}

COUNTS: dict[str, Sentence] = {
    "count_task_closed": gettext_lazy("This count is {state:words} already: request another count."),
    "counted_again_since": gettext_lazy("The shelf was counted again at {counted_at}: that count is valid."),
    "book_unknown_at_moment": gettext_lazy(
        "The book does not show what was there at that moment: count the shelf again."
    ),
}

SUPPLY_ORDERS: dict[str, Sentence] = {
    "order_name_empty": gettext_lazy("{field} must not be empty: it identifies the order."),
    "order_version_missing": gettext_lazy(
        "Give updated_at, when the sender last changed the order: the newest version counts."
    ),
    "received_above_ordered": gettext_lazy(
        "received is {received} of {ordered} ordered: if more came than was ordered, send that as quantity too."
    ),
    "received_order_without_quantity": gettext_lazy(
        "Give received, how many pieces came, or send the order as cancelled."
    ),
    "received_order_without_date": gettext_lazy(
        "Give received_at, when the last piece was on the shelf: lead times need it."
    ),
    "received_before_ordered": gettext_lazy("received_at must not be before ordered_at."),
    "received_date_without_quantity": gettext_lazy(
        "received_at says that something came: give received, how many pieces."
    ),
}

INSTALLATIONS: dict[str, Sentence] = {
    "unit_already_fitted": gettext_lazy(
        "A unit is fitted at {position} since {installed_on}: record its removal first."
    ),
    "nothing_fitted": gettext_lazy("Nothing is fitted at {position}: record what was fitted first."),
    "removal_already_recorded": gettext_lazy(
        "This unit was removed on {removed_on} already: a removal is recorded once."
    ),
    "overlaps_earlier_unit": gettext_lazy(
        "Another unit was fitted at {position} from {installed_on} until {removed_on}: give dates that do not overlap with it."
    ),
    "overlaps_fitted_unit": gettext_lazy(
        "Another unit is fitted at {position} since {installed_on}: give dates that do not overlap with it."
    ),
    "two_units_at_one_position": gettext_lazy(
        "Two units would be at {position} on {at_on}: which of them was fitted?"
    ),
    "inspection_before_first_unit": gettext_lazy(
        "at is before {installed_on}, when the first unit at {position} was fitted: correct the date, or record the unit before."
    ),
    "issue_unit_fitted": gettext_lazy(
        "The unit of movement {movement} is fitted at {position} since {installed_on}: record its removal, or say that it was "
        "never fitted, then reverse the movement."
    ),
    "issue_partly_fitted": gettext_lazy(
        "One of the {left} pieces of movement {movement} is fitted at {position} since {installed_on}: reverse {others} at most, or "
        "record its removal first."
    ),
    "returned_unit_fitted": gettext_lazy(
        "{item} is fitted at {position} since {installed_on} and no other piece of that job is out: record its removal, or say "
        "that it was never fitted, then return it."
    ),
    "issue_was_returned": gettext_lazy(
        "The piece of movement {movement} was returned: issue one before it is fitted."
    ),
    "installation_begun_by_order": gettext_lazy(
        "Work order {work_order} says that this unit was fitted: correct the work order."
    ),
    "installation_has_approval": gettext_lazy(
        "The unit fitted on {installed_on} is approved as a substitute: settle that before its installation is removed."
    ),
    "temporary_unit_without_approver": gettext_lazy(
        "A temporary unit needs the name of who allowed it: give approved_by."
    ),
    "installation_without_part": gettext_lazy("Say what was fitted: give an item or a specification."),
    "removed_before_installed": gettext_lazy(
        "removed_at must not be before {installed_on}, when the unit was fitted."
    ),
    "end_without_reason": filled(gettext_lazy("Say how it ended: one of {allowed}."), allowed=_ends),
    "removal_without_date": gettext_lazy(
        "{field} belongs to a removal: give the day of removal (removed_at) too, or leave it empty."
    ),
    "recorded_otherwise": gettext_lazy(
        "{field} is recorded as '{recorded}': an import does not change what has happened."
    ),
    "movement_not_an_issue": gettext_lazy("A unit comes from an issue: name the movement of an issue."),
    "movement_of_another_item": gettext_lazy(
        "That issue was of {issued_item}, not of {item}: which of the two was fitted?"
    ),
    "issue_was_reversed": gettext_lazy("That issue was reversed: name the valid one."),
    "issue_belongs_to_another_unit": gettext_lazy(
        "That issue belongs to another unit already: each unit needs its own."
    ),
    "inspection_without_finding": gettext_lazy(
        "Say what was found: give elongation_percent, hooked_teeth or a note."
    ),
    "elongation_out_of_range": gettext_lazy(
        "elongation_percent must be from {least_percent} to {greatest_percent}: was it measured over enough pitches?"
    ),
}

REQUESTS: dict[str, Sentence] = {
    "reference_already_recorded": gettext_lazy(
        "{reference} is recorded already with another {differs}: retract that request and give the right one a reference of its "
        "own."
    ),
    "request_already_retracted": gettext_lazy(
        "This request was retracted on {retracted_on} already: it does not count."
    ),
    "retracted_before_request": gettext_lazy(
        "at must not be before {requested_on}, the date of the request."
    ),
    "request_without_item_or_position": gettext_lazy("Say what was requested: an item, a position or both."),
    "issued_although_not_filled": gettext_lazy(
        "{result:Words} says that nothing was issued: leave issued_item out, or correct the result."
    ),
    "substitute_is_the_item_itself": gettext_lazy(
        "The item itself was issued: that is filled, not filled_by_substitute."
    ),
    "filled_with_another_item": gettext_lazy(
        "Another item was issued: that is filled_by_substitute, not filled."
    ),
}

SENTENCES: dict[str, Sentence] = {
    **VALUES,
    **MOVEMENTS,
    **MOVEMENT_MEMBERS,
    **RESERVATIONS,
    **COUNTS,
    **SUPPLY_ORDERS,
    **INSTALLATIONS,
    **REQUESTS,
}
