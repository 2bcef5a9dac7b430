"""Keys that differ by capitals alone: to people they name one thing, so only one of them may stand."""

import unicodedata
from collections.abc import Collection
from typing import Any

from django.db import models

from api.edge.declarations import find_declaration
from inventory.facts import Fact, fact
from inventory.models.text_index import normal_forms

NAMED_BY = ("code", "tag", "stock_number")
Key = tuple[Any, ...]
"""What a record lies in, if anything, and its code, tag or number."""


def folded(text: str) -> str:
    return unicodedata.normalize("NFC", text).casefold()


def key_of_any_case(model: type[models.Model]) -> tuple[str, ...]:
    """The columns of its natural key; none where capitals tell one from another, as in the codes of another system."""
    declaration = find_declaration(model)
    names = declaration.key_fields if declaration else ()
    if not names or names[-1] not in NAMED_BY:
        return ()
    return tuple(model._meta.get_field(name).attname for name in names)  # type: ignore[union-attr]


def twins(model: type[models.Model], keys: Collection[Key], *, besides: Any = None) -> dict[Key, str]:
    """By key, as `folded` makes it: how the record that stands there is written."""
    names = key_of_any_case(model)
    forms = {form for key in keys for form in normal_forms(key[-1])}
    if not names or not forms:
        return {}
    rows = model._default_manager.filter(**{f"{names[-1]}__normal__in": sorted(forms)})
    found = rows.exclude(pk=besides).order_by().values_list(*names)
    return {(*place, folded(text)): text for *place, text in found}


def in_other_case(record: models.Model) -> list[tuple[str, Fact]]:
    """Field and reason where another record has the key of this one in other capitals.

    Left to its validator is a key that is unique by itself (`AnyCaseUnique`).
    """
    names = key_of_any_case(type(record))
    if not names or (len(names) == 1 and not isinstance(record._meta.get_field(names[0]), models.SlugField)):
        return []
    *place, text = (getattr(record, name) for name in names)
    if not isinstance(text, str) or not text:
        return []
    other = twins(type(record), [(*place, text)], besides=record.pk).get((*place, folded(text)), text)
    return [] if other == text else [(names[-1], fact("key_in_other_case", key=text, other=other))]
