"""What is missing in the demo plant, against every verdict judged without and with each attribute."""

from collections.abc import Iterator
from dataclasses import fields, replace

import pytest

from drives.models import Installation, MissingAttribute
from drives.place.verdict import findings_for_place
from drives.substitutes.position_requirement import position_requirement, positions_with_requirements
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Sprocket
from inventory.interchange.vocabulary import Grade
from inventory.models import Item, PartKind

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]
EVERY = 40
"""One position of so many is judged, and each at which anything is missing."""


@pytest.mark.sqlite
def test_an_attribute_is_missing_where_a_value_of_the_catalogue_would_let_the_item_serve() -> None:
    stored = set(MissingAttribute.objects.filter(is_alone=True).values_list("position", "item", "attribute"))
    tried = {position for position, *_ in stored}
    positions = [one for one in positions_with_requirements() if one.pk in tried or one.pk % EVERY == 0]
    rows = Item.objects.filter(specification__kind=PartKind.SPROCKET).select_related("specification")
    parts = {row.pk: attributes_of(row.specification) for row in rows}
    known = {
        one.name: {getattr(part, one.name) for part in parts.values()} - {None} for one in fields(Sprocket)
    }
    fitted = Installation.objects.last_for_good().items_by_position()
    assert stored
    found = {
        (position.pk, item, name)
        for position in positions
        for item, name in _blocked(position, parts, known, fitted.get(position.pk))
    }
    assert found == {one for one in stored if one[0] in {position.pk for position in positions}}


def _blocked(position, parts, known, fitted) -> Iterator[tuple[int, str]]:
    asked, practice = position_requirement(position), current_practice()
    duty = replace(asked.duty, elongation_percent=None)

    def grade(part: Sprocket) -> Grade:
        return Verdict(findings=findings_for_place(asked.required, part, duty=duty, practice=practice)).grade

    for item, part in parts.items():
        if duty.lifting or item == fitted or grade(part) is not Grade.NEEDS_REVIEW:
            continue
        for name, values in known.items():
            if getattr(part, name) is None and any(
                grade(replace(part, **{name: value})) in (Grade.DROP_IN, Grade.WITH_WORK) for value in values
            ):
                yield item, name
