"""What a record's own checks say, by code: the constraints of the database carry theirs, these belong to `clean`."""

from typing import Any

from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from inventory.facts import Fact, fact

MESSAGES: dict[str, Promise] = {
    "chain_not_known": _("'{designation}' is not a known chain designation."),
    "dimension_not_of_the_chain": _(
        "{given_mm:.12g} mm is not {chain}, which has {standard_mm:.12g} mm: leave out one of the two."
    ),
    "unit_of_item_with_movements": _(
        "This item has movements in its unit: create a new item for the other unit."
    ),
    "successor_replaced_by_this_item": _(
        "{successor} is itself replaced by {item}: correct one of the two first."
    ),
    "time_zone_not_known": _("{name} is not a time zone: give a name such as Europe/Berlin."),
    "setting_out_of_range": _(
        "{setting} must be from {least:g} to {most:g}, a whole number where it counts something."
    ),
    "record_start_in_future": _(
        "A record cannot be complete from a day in the future: give today or earlier."
    ),
    "environment_not_a_list": _('Give a list of words, such as ["washdown", "food"].'),
    "environment_words_not_known": _("Not known: {words}. Known are {allowed}."),
}


def invalid(code: str, **values: Any) -> ValidationError:
    # Django fills `params` into the text with %: what somebody typed may hold one.
    text = str(MESSAGES[code]).format(**values)
    if values:
        text = text.replace("%", "%%")
    return ValidationError(text, code=code, params=values)


def fact_of_invalid(error: ValidationError) -> Fact:
    """Code and values of one error that `invalid` made, or of a core's refusal that was passed on."""
    return fact(str(error.code), **(error.params or {}))
