"""Where a candidate differs from the unit that is fitted, in dimensions that are recorded of both."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.screens.drawings.sprocket import DrawnSprocket
from api.screens.drawings.view import value
from api.screens.part_dimensions import LENGTHS
from api.wording.labels import label

WORDS = ((_("Hub"), "hub_style"), (_("Bush"), "bush_size"))
SAME_MM = 0.005


@dataclass(frozen=True)
class Difference:
    name: Promise
    old: str
    new: str


def differences_between(old: DrawnSprocket, new: DrawnSprocket) -> list[Difference]:
    return [*_of_teeth(old, new), *_of_lengths(old, new), *_of_words(old, new)]


def _of_teeth(old: DrawnSprocket, new: DrawnSprocket) -> Iterator[Difference]:
    for name, one, other in (
        (_("Chain"), old.form.chain, new.form.chain),
        (_("Teeth"), old.form.teeth, new.form.teeth),
        (_("Strands"), old.form.strands, new.form.strands),
    ):
        if one != other:
            yield Difference(name, str(one), str(other))


def _of_lengths(old: DrawnSprocket, new: DrawnSprocket) -> Iterator[Difference]:
    for name, column in LENGTHS:
        one, other = (getattr(drawn.part, column, None) for drawn in (old, new))
        if one is not None and other is not None and abs(one - other) > SAME_MM:
            yield Difference(name, f"{value(one)} mm", f"{value(other)} mm")


def _of_words(old: DrawnSprocket, new: DrawnSprocket) -> Iterator[Difference]:
    for name, column in WORDS:
        one, other = (getattr(drawn.part, column) for drawn in (old, new))
        if one is not None and other is not None and one != other:
            yield Difference(name, label(one), label(other))
