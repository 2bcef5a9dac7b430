"""Items to be run down, and what stands in the way."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence

SENTENCES: dict[str, Sentence] = {
    "run_down_names_no_item": _(
        "Choose at least one item of the list; if it has changed since, recalculate it."
    ),
    "run_down_not_active": _("{item} is not active, so it cannot be marked: recalculate the list."),
    "run_down_not_open": _("This item is not being run down any more: nothing was changed."),
    "run_down_needs_all_plants": _(
        "An item is one for all plants: ask a manager who sees all of them and all storerooms."
    ),
    "run_down_reason_missing": _("Give a reason of at most {most} characters."),
    "blocked_without_reason": _("{item} is blocked: say in reason why it is issued all the same."),
    "run_down_only_cover": _(
        "{item} is the only active item held that serves {position}, a vital or lifting drive: keep it, or hold another one first."
    ),
}
