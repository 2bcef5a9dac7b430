"""Rules of the records: the constraints of the database by their name, the checks of a record, and doubtful sizes."""

from collections.abc import Iterator, Mapping

from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api import models as api_models
from api.wording.figures import Sentence, Shown
from drives import models as drives_models
from inventory import models as inventory_models
from inventory.models.messages import MESSAGES


def _chain_not_known(values: Mapping[str, Shown]) -> str:
    text = str(MESSAGES["chain_not_known"]).format_map(values)
    if not values["nearest"]:
        return text
    return text + " " + _("Nearest names: {nearest}.").format_map(values)


def _constraints() -> Iterator[models.BaseConstraint]:
    for room in (inventory_models, drives_models, api_models):
        for model in vars(room).values():
            if isinstance(model, type) and issubclass(model, models.Model):
                yield from model._meta.constraints


CONSTRAINTS: dict[str, Sentence] = {
    constraint.name: constraint.violation_error_message or constraint.name for constraint in _constraints()
}
SENTENCES: dict[str, Sentence] = {
    **CONSTRAINTS,
    **MESSAGES,
    "chain_not_known": _chain_not_known,
    "specification_without_attributes": gettext_lazy(
        "Give at least one attribute beside kind, such as chain, teeth or bore_mm: an empty specification says nothing."
    ),
    "centres_perhaps_in_inches": gettext_lazy(
        "{length_mm:.12g} mm is under {pitches:d} pitches of {pitch_mm:.12g} mm: inches? {length_mm:.12g} in would be "
        "{inches_in_mm:.12g} mm."
    ),
    "diameter_perhaps_in_inches": gettext_lazy(
        "{length_mm:.12g} mm is far below the pitch diameter of {pitch_diameter_mm:.1mm}: inches? {length_mm:.12g} in would be "
        "{inches_in_mm:.12g} mm."
    ),
}
