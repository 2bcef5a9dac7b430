"""Writes a wrong value past the forms, and through them: the database refuses, and so do words."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction


def refused_by_the_database(record: models.Model, wrong: dict[str, Any]) -> None:
    for name, value in wrong.items():
        setattr(record, name, value)
    with pytest.raises(IntegrityError), transaction.atomic():
        record.save()


def words_of(record: models.Model, wrong: dict[str, Any]) -> str:
    """Every sentence of the refusal by full_clean."""
    for name, value in wrong.items():
        setattr(record, name, value)
    with pytest.raises(ValidationError) as refusal:
        record.full_clean()
    return " ".join(refusal.value.messages)
