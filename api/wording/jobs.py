"""Background jobs: why there is no answer yet."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence

SENTENCES: dict[str, Sentence] = {
    "calculation_failed": _(
        "The calculation failed; the cause is in the log of the service. It can be tried again after a minute."
    ),
    "too_many_calculations": _(
        "{limit} of your calculations are waiting already. Try again when one of them is done."
    ),
}
