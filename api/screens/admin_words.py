"""Fields of the administration in the words of the pages, with their units."""

from typing import Any

from django.contrib.auth.models import Group
from django.db.models import Model
from django.forms import CheckboxSelectMultiple, MultipleChoiceField
from django.http import HttpRequest
from django.utils.functional import Promise
from django.utils.text import capfirst

from api.models import Role
from api.screens.lists.declared import NAMES
from api.wording.labels import label
from inventory.interchange.vocabulary import Environment

UNITS = {
    "mm": "mm",
    "kw": "kW",
    "rpm": "rpm",
    "percent": "%",
    "c": "°C",
    "kg": "kg",
    "minutes": "min",
    "hours": "h",
    "days": "days",
}


def field_words(name: str) -> str | Promise:
    """`power_kw` is Power, kW: as the lists have it, else from its name."""
    if name in NAMES:
        return NAMES[name]
    stem, _mark, end = name.rpartition("_")
    if stem and end in UNITS:
        return f"{stem.replace('_', ' ')}, {UNITS[end]}"
    return name.replace("_", " ")


def name_fields(model: type[Model]) -> None:
    """Set here, not in the models: what a page is called is no matter of the database."""
    for field in model._meta.concrete_fields:
        if field.verbose_name == field.name.replace("_", " "):
            field.verbose_name = field_words(field.name)  # type: ignore[assignment]


class TicksEnvironment:
    """Goes before the page of drives: what surrounds one is ticked, not written as a list."""

    def formfield_for_dbfield(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        if db_field.name != "environment":
            return super().formfield_for_dbfield(db_field, request, **kwargs)  # type: ignore[misc]
        return MultipleChoiceField(
            choices=[(word.value, label(word)) for word in Environment],
            widget=CheckboxSelectMultiple,
            label=capfirst(str(db_field.verbose_name)),
            required=False,
        )


class KeepsRoles:
    """Goes before the page of groups: a role is its group, whose people would lose it without a word."""

    def is_role(self, group: Any) -> bool:
        return group is not None and Group.objects.filter(pk=group.pk, name__in=Role.values).exists()

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return not self.is_role(obj) and super().has_delete_permission(request, obj)  # type: ignore[misc]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        fields = super().get_readonly_fields(request, obj)  # type: ignore[misc]
        return (*fields, "name") if self.is_role(obj) else fields

    def get_deleted_objects(self, objs: Any, request: HttpRequest) -> Any:
        """What is chosen in the list is refused where a role is among it."""
        deleted, counts, perms, protected = super().get_deleted_objects(objs, request)  # type: ignore[misc]
        return deleted, counts, perms, [*protected, *(str(group) for group in objs if self.is_role(group))]
