import random
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import models

from api.wire.invariants import broken_rules, rules_of
from drives.models import Drive, Inspection, Installation, Position
from inventory.facts import fact
from inventory.models import Item, OpeningHours, Specification, TransferTime

MODELS = (Specification, Drive, Position, Item, Inspection, Installation, OpeningHours, TransferTime)


def some_value(field: Any, lot: random.Random) -> Any:
    """A value at or around the bounds that the rules may draw."""
    if field.is_relation:
        return lot.choice([None, 1, 2])
    if isinstance(field, models.DecimalField):
        return lot.choice(
            [None, Decimal(-30), Decimal(-1), Decimal(0), Decimal("0.5"), Decimal(20), Decimal(25)]
        )
    if isinstance(field, models.IntegerField):
        return lot.choice([None, 0, 1, 5, 6, 10, 11, 400, 401, 20_000])
    if field.choices:
        return lot.choice(["", "unheard of", *[value for value, _ in field.choices]])
    if isinstance(field, models.CharField):
        return lot.choice(["", "something"])
    return field.get_default()


def database_says(constraint: models.CheckConstraint, record: Any) -> bool:
    try:
        constraint.validate(type(record), record)
    except ValidationError:
        return False
    return True


@pytest.mark.django_db
@pytest.mark.parametrize("model", MODELS)
def test_each_rule_is_answered_as_the_database_answers_it(model: type[models.Model]) -> None:
    lot = random.Random("malt")
    constraints = [one for one in model._meta.constraints if isinstance(one, models.CheckConstraint)]
    assert len(constraints) == len(rules_of(model))

    for _ in range(12):
        record = model()
        for field in model._meta.concrete_fields:
            if field.name not in {
                "installed_at",
                "removed_at",
                "created_at",
                "updated_at",
                "at",
                "opens",
                "closes",
            }:
                setattr(record, field.attname, some_value(field, lot))
        for constraint, rule in zip(constraints, rules_of(model), strict=True):
            assert (rule.holds(record) is not False) is database_says(constraint, record), (
                constraint.name,
                vars(record),
            )


def test_a_broken_rule_names_its_field_and_says_what_to_do() -> None:
    found = broken_rules(
        Specification(kind="sprocket", teeth=5, bore_mm=Decimal(30), max_bore_mm=Decimal(28))
    )

    assert ("teeth", fact("specification_teeth_within_bounds")) in found
    assert [field for field, _ in found] == ["teeth", "bore_mm"]
