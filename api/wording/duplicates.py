"""Merges of one number into another: what forbids one, what an engineer is asked, what stands in the way of undoing it."""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from api.wording.figures import Sentence, counted

REFUSALS: dict[str, Sentence] = {
    "number_merged": _("{item} is merged into {into}: use {into}."),
    "merge_with_itself": _("{item} cannot be merged into itself: name the number that stays."),
    "merge_of_other_unit": _(
        "{item} is counted by {unit:words}, {into} by {into_unit:words}: numbers of different units of issue are not merged."
    ),
    "merge_of_other_currency": _(
        "{item} is priced in {currency}, {into} in {into_currency}: enter both prices in one currency first."
    ),
    "merge_of_other_kind": _(
        "{item} is a {kind:words}, {into} a {into_kind:words}: they are different parts."
    ),
    "merge_of_other_part": _(
        "{item} and {into} are different parts. {because:sentences} Correct the specification that is wrong."
    ),
    "merge_of_item_on_hold": _(
        "{quantity} of {item} are on hold in {storeroom}: settle what they are before the number is merged."
    ),
    "merge_with_open_fit_question": _(
        "A part came back because {item} did not fit: answer fit question {fit_question} first."
    ),
    "merge_reason_missing": _("Say why the two numbers are one part: give reason."),
    "merge_into_ended_item": _(
        "{into} is {lifecycle:words}: merge into a number that is still bought, or make it active first."
    ),
    "merge_into_replaced_item": _("{into} is replaced by {item}: merge {into} into {item} instead."),
    "merge_needs_engineer": _(
        "Ask an engineer before {item} and {into} are merged. {doubts:sentences} Give the engineer's name (approved_by) "
        "and the answer (approval_reason)."
    ),
    "undo_reason_missing": _("Say why the merge is undone: give reason."),
    "merge_undone_already": _("{undone_by} has undone this merge already."),
    "merge_merged_further": _("{into} is merged into {later}: undo that merge first."),
    "merge_not_undone": _("The merge of {item} into {into} stays as it is. {obstacles:sentences}"),
    "movement_of_merge": _("Movement {movement} belongs to a merge: undo the merge instead."),
}

DOUBTS: dict[str, Sentence] = {
    "not_alike": _("{offered} in place of {required}: {grade:words}. {because:sentences}"),
    "attribute_not_alike": _("{attribute:Words}: {required} required, {offered} offered."),
    "hardened_in_words": _(
        "The description of {item} says hardened teeth, its record does not: look at the part, and complete the record."
    ),
    "merge_of_unread_item": _("Too little of {item} is recorded to compare it: look at the parts."),
    "drops_in_alone": counted(
        ngettext_lazy(
            "{item} drops in at {count:,} position where {other} does not ({positions}).",
            "{item} drops in at {count:,} positions where {other} does not (such as {positions}).",
            "count",
        )
    ),
    "merge_on_lifting_drive": counted(
        ngettext_lazy(
            "One of them runs or ran on {count:,} position that lifts loads or people ({positions}).",
            "They run or ran on {count:,} positions that lift loads or people (such as {positions}).",
            "count",
        )
    ),
    "plants_differ": _("The plants that keep or run them treat substitutes differently: {plants}."),
    "plant_rule": _("{plant} {rule:words}"),
}

OBSTACLES: dict[str, Sentence] = {
    "merged_stock_gone": _(
        "{moved} of {item} in {storeroom} ({condition:words}) went on as {into}, and {available} of {on_hand} there are available "
        "as they came: return them first, or leave the merge."
    ),
    "policy_set_since": _(
        "The stock policy of {into} in {storeroom} was changed since and stays; {item} has its own from before again: check both."
    ),
    "reversed_since": _(
        "Movements of {item} in {storeroom} were reversed since, under {into} ({change:+} there): count both numbers."
    ),
    "reservation_ended_since": _("The reservation of {work_order} has ended since ({state:words})."),
    "order_ended_since": _(
        "Supply order {order} is {status:words} since, under the number that it came in as."
    ),
    "count_ended_since": _("The count in {storeroom} was finished since."),
}

SENTENCES: dict[str, Sentence] = {**REFUSALS, **DOUBTS, **OBSTACLES}
