"""One record by the name in the address; what the caller may not see is not found."""

import unicodedata
from typing import TypeVar

from django.db.models import Model, QuerySet
from django.http import Http404

from api.edge.scope import visible_to_caller

LONGEST_NAME = 200
Record = TypeVar("Record", bound=Model)


def visible_or_404(records: QuerySet[Record], field: str, name: str) -> Record:
    """By the name as written, else in any case. PostgreSQL refuses NUL, SQLite a pattern of 50,000 characters; no name has them."""
    if "\x00" in name or len(name) > LONGEST_NAME:
        raise Http404
    name, visible = unicodedata.normalize("NFC", name), visible_to_caller(records)
    found = visible.filter(**{field: name}).first() or visible.filter(**{f"{field}__iexact": name}).first()
    if found is None:
        raise Http404
    return found
