"""What goes with an answer about substitutes: notes, companions, ready time, pairs, approvals, fit questions, jobs."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext, ngettext, ngettext_lazy
from django.utils.translation import gettext_lazy as _

from api.wording import phrases
from api.wording.figures import NotRecorded, Phrase, Sentence, Shown, counted, filled


def _key_size(values: Mapping[str, Shown]) -> str:
    return phrases.key(values) if values["key_width_mm"] else gettext("not recorded")


def _bush_bore(values: Mapping[str, Shown]) -> str:
    if not values["bore_mm"]:
        return gettext("bore not recorded")
    return gettext("bore {bore_mm:size}").format_map(values)


def _chain_length(values: Mapping[str, Shown]) -> str:
    if not values["links"]:
        return ""
    return ", " + ngettext("{links} link", "{links} links", values["links"]).format_map(values)


def _compared(text: Promise) -> Phrase:
    """What to measure, with what is recorded of the part and of the position."""

    def written(values: Mapping[str, Shown]) -> str:
        recorded = gettext("{offered} is recorded for {item}, {required} for {position}.")
        named = {name: _or_nothing(values[name]) for name in ("offered", "required")}
        return f"{text}: " + recorded.format_map({**values, **named})

    return written


def _or_nothing(value: Shown) -> Shown:
    return gettext("nothing") if isinstance(value, NotRecorded) else value


def _part(values: Mapping[str, Shown]) -> str:
    return str(values["item"] or gettext("a part without a stock number"))


NOTES: dict[str, Sentence] = {
    "item_is_no_recorded_sprocket": _("Only sprockets with a specification have substitutes here."),
    "requirement_taken_from_fitted_unit": filled(
        _(
            "Not recorded for this position, taken from {part}, fitted for good on {installed_on}: {attributes:words}."
        ),
        part=_part,
    ),
    "requirement_taken_from_removed_unit": filled(
        _(
            "Not recorded for this position, taken from {part}, the last one fitted for good (on {installed_on}, removed on "
            "{removed_on}): {attributes:words}."
        ),
        part=_part,
    ),
    "temporary_unit_lends_nothing": filled(
        _("{part} is fitted for a limited time, until {until_on}: nothing was taken from it."), part=_part
    ),
    "requirement_copied_from_fitted_unit": _(
        "The requirement was copied from what was fitted: candidates are compared with that, not with a drawing."
    ),
}

COMPANIONS: dict[str, Sentence] = {
    "bush_needed": filled(_("{bush_size}, {bore}"), bore=_bush_bore),
    "key_needed": _key_size,
    "chain_needed": filled(_("{designation}-{strands}{length}"), length=_chain_length),
    "joining_link_needed": _("{designation}-{strands}"),
    "companion_shaft_diameter_not_recorded": _("The shaft's diameter is not recorded."),
    "bush_on_shaft_stays": _("The bush on the shaft is used again; another one is a reserve."),
    "key_to_be_measured": _("Measure the key on the shaft."),
    "key_used_again": _("The key on the shaft is used again unless it is rolled or sheared."),
    "chain_stays": _("The chain in place is used again unless it is worn; see the wear check."),
    "joining_link_for_new_chain": _("One joins the new chain; check whether the box already holds one."),
    "chain_none_available": _("No chain of this kind is available."),
    "chain_length_not_recorded": _(
        "The length is not recorded; the longest piece has {longest_links} links."
    ),
    "chain_piece_long_enough": _("The longest piece has {longest_links} links: one piece is enough."),
    "chain_to_be_joined": counted(
        ngettext_lazy(
            "The longest piece has {longest_links} of {links} links: pieces are joined, {joints} joint is allowed.",
            "The longest piece has {longest_links} of {links} links: pieces are joined, {joints} joints are allowed.",
            "joints",
        ),
        "joints",
    ),
    "chain_pieces_too_short": _(
        "No single piece is long enough; the pieces have {piece_links} links and would have to be joined."
    ),
}

READY_TIME: dict[str, Sentence] = {
    "candidate_does_not_fit": _("It does not fit."),
    "plant_storeroom_not_recorded": _("The storeroom that serves this plant is not recorded."),
    "none_available": _("None is available in any storeroom."),
    "transfer_time_or_hours_not_recorded": _("The transfer time or the storeroom's hours are not recorded."),
    "shop_time_not_known": _("When the shop could do the work is not known."),
    "companion_not_available": _(
        "The {kind:words} ({needed}) is not available in any storeroom with a known transfer time."
    ),
    "time_of_a_step_not_recorded": _("The time of a step at the drive is not recorded."),
}

PAIRS: dict[str, Sentence] = {
    "pair_needs_one_driver_and_one_driven": _(
        "A pair needs one driver and one driven position on the drive."
    ),
    "lifting_drive_takes_no_pair": _("This drive lifts or carries people: no pair is offered."),
    "pair_needs_teeth_and_length": _(
        "Record the teeth of both sprockets and the links or the centre distance first."
    ),
    "no_pair_keeps_the_ratio": _("No two sprockets in stock keep the ratio of this drive."),
    "pair_keeps_speed": _("{driver_teeth} and {driven_teeth} teeth: the speed does not change."),
    "pair_runs_faster": _(
        "{driver_teeth} and {driven_teeth} teeth: the driven shaft runs {change_percent:.2f} % faster."
    ),
    "pair_runs_slower": _(
        "{driver_teeth} and {driven_teeth} teeth: the driven shaft runs {change_percent:.2f} % slower."
    ),
    "pair_keeps_chain": filled(
        _("The same chain needs the shafts {shift}, {centre_mm:.1mm} from centre to centre."),
        shift=phrases.shift,
    ),
    "pair_needs_other_chain": filled(
        _(
            "It needs a chain of {links} links and the shafts {shift}, {centre_mm:.1mm} from centre to centre."
        ),
        shift=phrases.shift,
    ),
    "pair_other_length": filled(
        _("Or a chain of {links} links with the shafts {shift}, {centre_mm:.1mm} from centre to centre."),
        shift=phrases.shift,
    ),
    "pair_take_up_not_recorded": _("How far the shafts can be moved is not recorded."),
    "pair_is_planned_work": _(
        "Two parts, the chain length and the chain speed change: this is planned work and needs approval."
    ),
}

APPROVALS: dict[str, Sentence] = {
    "quoted_verdict_is_stale": _("The verdict {quoted} is out of date: read the new one and quote that."),
    "unfit_without_reason": _(
        "The records say that it does not fit at {position}: {reasons:sentences} Give the reason."
    ),
    "review_without_reason": _(
        "The records say that it needs review at {position}: {reasons:sentences} Give the reason."
    ),
    "approval_needed_before_fitting": _(
        "This plant needs the approval of another person before this is fitted at {position}: let a manager record it with "
        "approved_by and the movement of its issue."
    ),
    "approver_is_requester": _("{requested_by} has requested it: another person approves it."),
    "approver_not_typed": _("{field} is the manager's: record the unit, and let a manager approve it."),
    "substitution_already_approved": _(
        "{approved_by} has approved it until {until_on} already: another approval is for a longer time."
    ),
    "unit_already_removed": _("The unit at {position} has already been removed."),
    "approver_required": _("Say who approved it: give approved_by."),
    "approval_already_over": _("until_on is in the past: give the last day on which it may run."),
    "approval_too_long": _(
        "A temporary substitute may run for at most {limit_days} days: for longer, change what the position requires."
    ),
    "approval_inspection_outside": _("inspect_by must be from today to until_on."),
}

FIT_QUESTIONS: dict[str, Sentence] = {
    "measure_tooth_form": _compared(
        _("Measure the tooth width and the root diameter, on the part and on the mating sprocket")
    ),
    "count_strands": _compared(_("Count the rows of teeth of the part and the strands of the chain")),
    "count_teeth": _compared(_("Count the teeth of the part and of the sprocket that was removed")),
    "measure_bore_and_shaft": _compared(
        _("Measure the bore of the part and the shaft, both with a micrometer")
    ),
    "measure_keyseat_and_key": _compared(
        _("Measure width and depth of the keyseat in the part, and width and height of the key")
    ),
    "measure_hub": _compared(
        _("Measure hub diameter and length through bore of the part, and the room on the shaft")
    ),
    "measure_room_in_guard": _compared(
        _("Measure outside diameter and length of the part, and the room inside the guard")
    ),
    "measure_whole_part": _("Measure the part: only its stock number is recorded."),
    "measure_attribute_not_recorded": _("Measure the {attribute:words} of the part: it is not recorded."),
    "measure_recorded_attribute": _("Measure the {attribute:words} of the part: {recorded} is recorded."),
    "compare_with_record": _("Compare the part with its record, attribute by attribute."),
    "fit_answer_required": _("Say what was found: give answer."),
    "fit_question_already_answered": _("{answered_by} has already answered this."),
}


def _no_piece_for_job(values: Mapping[str, Shown]) -> str:
    allowed = (
        ngettext("{joints} joint is allowed", "{joints} joints are allowed", values["joints"])
        if values["joints"]
        else gettext("a chain is one piece")
    )
    text = gettext(
        "No piece left gives a chain of {links} links ({allowed}); the longest have {piece_links}."
    )
    return text.format_map({**values, "allowed": allowed.format_map(values)})


JOBS: dict[str, Sentence] = {
    "item_number_not_known": _("There is no item with this number."),
    "issued_or_reserved": _("Issued to this job or reserved for it."),
    "available_but_not_reserved": _("{quantity} available, not yet reserved for this job."),
    "on_order_in_time": _("On order, due {due_on}."),
    "on_order_too_late": _("On order, due {due_on}: too late."),
    "missing_with_substitutes": _("{missing} missing; {substitutes} could serve."),
    "missing_and_not_on_order": _("{missing} missing and not on order."),
    "available_in_other_storerooms": _("To transfer: {sources}."),
    "source_storeroom": _("{quantity} from {storeroom} ({minutes} min)"),
    "no_piece_for_chain_job": _no_piece_for_job,
    "reserved_in_storeroom": _("{quantity} in {storeroom} reserved for {work_order}."),
    "promised_to_earlier_job": counted(
        ngettext_lazy(
            "{quantity} goes to {work_order}, needed by {needed_by}.",
            "{quantity} go to {work_order}, needed by {needed_by}.",
            "quantity",
        ),
        "quantity",
    ),
    "promised_to_job_of_other_plant": counted(
        ngettext_lazy(
            "{quantity} goes to a job of another plant with an earlier date.",
            "{quantity} go to a job of another plant with an earlier date.",
            "quantity",
        ),
        "quantity",
    ),
    "transfer_time_not_recorded": _(
        "{quantity} in {storeroom}: the transfer time from there is not recorded."
    ),
}

SENTENCES: dict[str, Sentence] = {
    **NOTES,
    **COMPANIONS,
    **READY_TIME,
    **PAIRS,
    **APPROVALS,
    **FIT_QUESTIONS,
    **JOBS,
}
