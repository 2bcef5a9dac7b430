"""Values of the administration as people read them: stored JSON as a table of words, numbers without empty decimals."""

from collections.abc import Callable
from copy import copy
from typing import Any

from django.apps import apps
from django.contrib.admin import ChoicesFieldListFilter, FieldListFilter
from django.db.models import DecimalField, JSONField, Model
from django.http import HttpRequest
from django.utils.translation import gettext

from api.screens.stored_value import NOTHING, plain_number, stored_value
from api.wording.labels import DEMAND_MODELS, label

Shown = Callable[[Any], Any]


def _kind_of_record(name: str) -> Any:
    """The log outlives its models: one that is gone keeps the name under which it was logged."""
    try:
        return apps.get_model(name)._meta.verbose_name
    except LookupError:
        return name


KEPT_WORDS: dict[str, Callable[[str], Any]] = {
    "api.Change.record": _kind_of_record,
    "drives.Cover.grade": label,
    "drives.InboundMessage.kind": label,
    "drives.MissingAttribute.attribute": label,
    "inventory.Recommendation.model": lambda model: DEMAND_MODELS.get(model, model),
}
"""Fields that keep a word of the service, though the database does not hold which ones there are."""


def shown_field(field: Any) -> Shown | None:
    """What shows this field where it is only read; None where the administration does that well itself."""
    if isinstance(field, JSONField):
        return _showing(field, stored_value)
    if isinstance(field, DecimalField):
        return _showing(field, lambda value: NOTHING if value is None else plain_number(value))
    if field.choices:
        return _showing(field, lambda value: dict(_choices_in_words(field)).get(value, NOTHING))
    if words := KEPT_WORDS.get(str(field)):
        return _showing(field, lambda value: words(value) if value else NOTHING)
    return None


def _showing(field: Any, show: Callable[[Any], Any]) -> Shown:
    def shown(record: Model) -> Any:
        return show(getattr(record, field.name))

    shown.__name__ = field.name
    shown.short_description = field.verbose_name  # type: ignore[attr-defined]
    shown.admin_order_field = field.name  # type: ignore[attr-defined]
    return shown


def _in_words(value: Any, text: Any) -> Any:
    """A word of a vocabulary as the pages say it; what has words of its own keeps them."""
    own = gettext(str(value).replace("_", " ")) if value else ""
    return label(value) if own and str(text) == own else text


def _choices_in_words(field: Any) -> list[tuple[Any, Any]]:
    return [(value, _in_words(value, text)) for value, text in field.flatchoices]


def _kept_in_words(field: Any) -> list[tuple[Any, Any]]:
    kept = field.model._base_manager.order_by(field.name).values_list(field.name, flat=True).distinct()
    return [(value, KEPT_WORDS[str(field)](value)) for value in kept if value]


class ListedWordsFilter(ChoicesFieldListFilter):
    """Beside a list, the words in which its column says them."""

    def __init__(self, field: Any, *others: Any, **named: Any) -> None:
        in_words = copy(field)
        in_words.choices = _choices_in_words(field) if field.choices else _kept_in_words(field)
        super().__init__(in_words, *others, **named)


FieldListFilter.register(
    lambda field: bool(field.choices) or str(field) in KEPT_WORDS, ListedWordsFilter, take_priority=True
)


class ShowsValues:
    """Goes before the class of a page."""

    model: type[Model]

    def _shown(self, name: Any) -> Any:
        fields = {field.name: field for field in self.model._meta.concrete_fields}
        return (isinstance(name, str) and name in fields and shown_field(fields[name])) or name

    def formfield_for_choice_field(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        found = super().formfield_for_choice_field(db_field, request, **kwargs)  # type: ignore[misc]
        found.choices = [(value, _in_words(value, text)) for value, text in found.choices]
        return found

    def get_list_display(self, request: HttpRequest) -> Any:
        return [self._shown(name) for name in super().get_list_display(request)]  # type: ignore[misc]

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        groups = super().get_fieldsets(request, obj)  # type: ignore[misc]
        if obj is None or self.has_change_permission(request, obj):  # type: ignore[attr-defined]
            return groups
        return [
            (title, {**options, "fields": [self._shown(name) for name in options["fields"]]})
            for title, options in groups
        ]
