"""Lists whose `q` understands what a part is."""

from collections.abc import Sequence
from typing import ClassVar

from django.db.models import Q

from api.edge.filtering import StrictFilterSet
from api.edge.narrowing import Chosen, keys_of
from inventory.catalogue.asked_parts import is_called, with_words
from inventory.descriptions.query import QueryFilter, read_query


class AskedFilterSet(StrictFilterSet):
    """`q` finds what is called so, else what has the attributes that are understood and the other words, else the words."""

    named_by: ClassVar[tuple[str, ...]]
    search_text = "What it is called, attributes such as `12B 19T bore 35`, or words that must all occur."

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        raise NotImplementedError

    def search(self, chosen: Chosen, text: str) -> Chosen:
        readings = read_query(text).readings
        if readings and is_called(self.queryset.model, self.named_by, text):
            return super().search(chosen, text)
        for reading in readings:
            condition = self.asked_of(reading.filters)
            if condition is None:
                continue
            condition = with_words(condition, reading.words, self.search_fields)
            keys = keys_of(chosen.rows.model._base_manager.filter(condition))
            if keys is None:
                return chosen.among_many(condition)
            if keys:
                return chosen.with_keys(keys)
        return super().search(chosen, text)
