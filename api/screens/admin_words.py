"""The administration in the words of the pages: records, fields with their units, permissions."""

from typing import TYPE_CHECKING, Any

from django.contrib.auth.models import Group, Permission
from django.contrib.contenttypes.models import ContentType
from django.db.models import Model
from django.forms import CheckboxSelectMultiple, ModelMultipleChoiceField, MultipleChoiceField
from django.http import HttpRequest
from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from api.models import Role
from api.screens.lists.declared import NAMES
from api.wording.field_names import FIELD_NAMES
from api.wording.labels import label
from api.wording.record_kinds import RECORD_KINDS
from inventory.interchange.vocabulary import Environment

if TYPE_CHECKING:
    Choices = ModelMultipleChoiceField[Permission]
else:
    Choices = ModelMultipleChoiceField

PERMISSIONS = {
    "add": _("{records}: add"),
    "change": _("{records}: change"),
    "delete": _("{records}: delete"),
    "view": _("{records}: view"),
}


def name_record(model: type[Model]) -> None:
    """Set here, not in the models: what a page is called is no matter of the database, and needs no migration.

    Django writes into a migration what a model or a field was declared with, which stays empty.
    """
    options: Any = model._meta
    if model.__name__ in RECORD_KINDS:
        options.verbose_name, options.verbose_name_plural = RECORD_KINDS[model.__name__]
    for field in (*options.concrete_fields, *options.many_to_many):
        if field._verbose_name is None and (words := field_words(field.name)):
            field.verbose_name = words


def field_words(name: str) -> Promise | None:
    """As the lists have it."""
    return NAMES.get(name) or FIELD_NAMES.get(name)


class PermissionChoices(Choices):
    def label_from_instance(self, obj: Any) -> str:
        action, _mark, _record = obj.codename.partition("_")
        model = obj.content_type.model_class()
        if model is None or action not in PERMISSIONS:
            return str(obj)
        return str(PERMISSIONS[action]).format(records=capfirst(model._meta.verbose_name_plural))


class NamesPermissions:
    """Goes before the pages of users and groups: a permission is kept in the words of its migration.

    Only those of records that have a page here can be given: all others would allow nothing.
    """

    admin_site: Any

    def formfield_for_manytomany(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        if db_field.related_model is Permission:
            pages = ContentType.objects.get_for_models(*self.admin_site._registry)
            kwargs["form_class"] = PermissionChoices
            kwargs["queryset"] = Permission.objects.filter(content_type__in=pages.values())
        return super().formfield_for_manytomany(db_field, request, **kwargs)  # type: ignore[misc]


class KeepsAdministrators:
    """Goes before the page of users: who is no administrator makes none, and neither sees nor changes one."""

    def get_queryset(self, request: HttpRequest) -> Any:
        rows = super().get_queryset(request)  # type: ignore[misc]
        return rows if is_administrator(request) else rows.filter(is_superuser=False)

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        sets = super().get_fieldsets(request, obj)  # type: ignore[misc]
        if is_administrator(request):
            return sets
        return [
            (title, {**options, "fields": tuple(one for one in options["fields"] if one != "is_superuser")})
            for title, options in sets
        ]

    def get_list_filter(self, request: HttpRequest) -> Any:
        filters = super().get_list_filter(request)  # type: ignore[misc]
        return filters if is_administrator(request) else [one for one in filters if one != "is_superuser"]


def is_administrator(request: HttpRequest) -> bool:
    return bool(getattr(request.user, "is_superuser", False))


class TicksEnvironment:
    """Goes before the page of drives: what surrounds one is ticked, not written as a list."""

    def formfield_for_dbfield(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        if db_field.name != "environment":
            return super().formfield_for_dbfield(db_field, request, **kwargs)  # type: ignore[misc]
        return MultipleChoiceField(
            choices=[(word.value, label(word)) for word in Environment],
            widget=CheckboxSelectMultiple,
            label=capfirst(db_field.verbose_name),
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
