"""What a check of a part found."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence

SENTENCES: dict[str, Sentence] = {
    "text": "{text}",
    "judgement": _("judgement of this project"),
    "roller_too_large": _(
        "The {chain} roller ({roller_mm:.2f} mm) is larger than the seat of the {rim} rim "
        "({seat_max_mm:.2f} mm at most): the chain rides high and jumps under load."
    ),
}
