"""The columns of text of all records, and a script in each of them."""

import re
from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import DatabaseError, models, transaction

SCRIPT = "<script>alert(1)</script>"
MUCH = SCRIPT * (200_000 // len(SCRIPT))
OWN_APPS = ("inventory", "drives", "api")
NO_WORDS = re.compile(
    r"digest|hash|prefix|secret|timezone|currency|language|_key$|^key$|holder|caller|session|^kind$|^state$|^name$|code|attribute|designation|bush_size|likeness"
)
"""Columns that the service reads and no person: a page looks for a zone of that name, not for its words."""


def text_columns(model: Any) -> Iterator[Any]:
    if model._meta.app_label in OWN_APPS:
        for field in model._meta.concrete_fields:
            if isinstance(field, models.CharField | models.TextField):
                yield field


def write_into_every_text(words: str) -> set[str]:
    """Each column of free text, filled with the words as far as it may be: a text without a limit of its own takes 2,000 characters."""
    written = set()
    for model in apps.get_models():
        for field in text_columns(model):
            if field.choices or field.unique or NO_WORDS.search(field.name):
                continue
            try:
                with transaction.atomic():
                    if model._base_manager.update(**{field.name: words[: field.max_length or 2_000]}):
                        written.add(f"{model._meta.label}.{field.name}")
            except DatabaseError:
                continue
    return written
