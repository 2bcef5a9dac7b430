"""What a caller names and is not there, or is not what is needed."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence

SENTENCES: dict[str, Sentence] = {
    "no_such_record": _("There is no {kind:words} '{name}'."),
    "no_sprocket_with_attributes": _(
        "This is not recorded as a sprocket with a specification, so there is nothing to compare: record its attributes first."
    ),
    "nothing_fitted_to_compare": _("No unit with a specification is fitted there."),
    "end_not_after_begin": _("end must be after begin."),
    "no_such_bin": _('Storeroom {storeroom} has no bin "{bin}".'),
    "reference_with_other_members": _("Send a reference without other members."),
}
