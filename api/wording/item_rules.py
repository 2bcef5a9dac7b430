"""Rules for substitutes: who decided what, when, why and until when; what a rule does, and why one does nothing."""

from collections.abc import Mapping

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence, Shown, filled


def _until(values: Mapping[str, Shown]) -> str:
    return (
        gettext("until {until_on}").format_map(values) if values["until_on"] else gettext("until withdrawn")
    )


def _said(text: Sentence) -> Sentence:
    """A sentence that ends with who said so, from when, until when and why."""
    return filled(
        _("{what} {given_by} decided so from {from_on} {until}: {reason}."),
        until=_until,
        what=lambda values: str(text).format_map(values),
        reason=lambda values: str(values["reason"]).rstrip("."),
    )


FINDINGS: dict[str, Sentence] = {
    "rule_never": _said(_("{item} must never serve here.")),
    "rule_replaces": _said(_("{item} replaces {instead_of} here.")),
    "settled_by_rule": _("Settled by the rule of {given_by} that {item} replaces {instead_of} here."),
}

NOTES: dict[str, Sentence] = {
    "rule_never_ended": _said(_("A rule that {item} must never serve here has ended.")),
    "rule_replaces_ended": _said(_("A rule that {item} replaces {instead_of} here has ended.")),
    "rule_original_not_wanted": _said(
        _(
            "The rule that {item} replaces {instead_of} here has no effect: {instead_of} does not fit here by its own attributes."
        )
    ),
    "rule_not_on_lifting_drive": _said(
        _(
            "The rule that {item} replaces {instead_of} here has no effect: this drive lifts or carries people."
        )
    ),
    "rule_under_one_that_forbids": _said(
        _("The rule that {item} replaces {instead_of} here has no effect: another rule forbids {item} here.")
    ),
    "rule_not_over_refusal": _said(
        _(
            "The rule that {item} replaces {instead_of} here has no effect: a rule is never put over what does not fit."
        )
    ),
    "rule_needs_attributes": _said(
        _(
            "The rule that {item} replaces {instead_of} here has no effect: measure and record what is not known of {item} first."
        )
    ),
}

REFUSALS: dict[str, Sentence] = {
    "rule_against_itself": _("{item} cannot replace itself: name another item in instead_of."),
    "rule_names_no_item": _("Name the item that the rule is about."),
    "rule_replaces_nothing": _("Name the item that is replaced: give instead_of."),
    "rule_never_replaces": _("A rule that forbids an item replaces none: leave instead_of out."),
    "rule_of_no_sprocket": _(
        "{item} is not recorded as a sprocket with a specification, so no verdict is made of it: record its attributes first."
    ),
    "rule_without_given_by": _("Say who decided it: give given_by."),
    "rule_without_reason": _("Say why: give reason."),
    "rule_at_two_places": _("Give a position or a drive, not both."),
    "rule_at_another_plant": _("That place is in plant {plant}: give this plant, or leave it out."),
    "rule_needs_a_place": _(
        "Give a plant, drive or position: a rule for everywhere is given by somebody who sees all plants."
    ),
    "rule_for_all_plants": _("This rule holds everywhere: somebody who sees all plants has to withdraw it."),
    "rule_ends_before_it_begins": _("valid_until is before valid_from, {valid_from}: give a later day."),
    "rule_over_already": _("valid_until has passed: give today, {today}, or a later day."),
    "rule_in_force_already": _(
        "This rule is in force already at this place: withdraw rule {rule} first, or give other days."
    ),
    "rule_withdrawn_already": _("{withdrawn_by} has withdrawn this rule already."),
}

SENTENCES: dict[str, Sentence] = {**FINDINGS, **NOTES, **REFUSALS}
