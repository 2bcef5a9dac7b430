"""Administration: every page writes to the change log, whichever app registered it."""

from typing import Any

from django.contrib import admin
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.db import transaction
from django.db.models import Model, QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from api.edge.change_log import (
    RecordChange,
    RecordValues,
    is_logged,
    logging_changes,
    logging_deletion,
    values_of,
    write_changes,
)
from api.edge.scope import visible_to_caller
from api.screens.account.handed_links import HandsOutLinks
from api.screens.admin_changes import SHOWN_BEFORE
from api.screens.admin_keys import ChoosesKnownKeys
from api.screens.admin_place_changes import ShowsWhatDriveTouches, ShowsWhatPositionTouches
from api.screens.admin_values import ShowsValues
from api.screens.admin_words import (
    KeepsAdministrators,
    KeepsRoles,
    NamesPermissions,
    TicksEnvironment,
    name_record,
)
from api.screens.described_items_page import ReadsDescriptions
from api.screens.sign_in import AdminSignInForm
from drives.models import Drive, Position
from inventory.models import Item, Specification


def with_links(record: Model) -> RecordValues:
    """The columns, and of many-to-many fields the names."""
    linked = {
        field.name: sorted(str(one) for one in getattr(record, field.name).all())
        for field in record._meta.many_to_many
    }
    return values_of(record) | linked


class RecordedAdmin(ShowsValues, ChoosesKnownKeys):
    """Goes before the class of a page. The log is written after the rows and their links, in the same transaction."""

    model: type[Model]
    list_per_page = 50  # A hundred rows of a wide record are more than 100 kB.

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return visible_to_caller(super().get_queryset(request))  # type: ignore[misc]

    def save_model(self, request: HttpRequest, obj: Model, form: Any, change: bool) -> None:
        standing = type(obj)._base_manager.filter(pk=obj.pk).first() if change else None
        form.values_before = with_links(standing) if standing is not None else None
        super().save_model(request, obj, form, change)  # type: ignore[misc]

    def save_related(self, request: HttpRequest, form: Any, formsets: Any, change: bool) -> None:
        before = [rows_before(formset) for formset in formsets]
        super().save_related(request, form, formsets, change)  # type: ignore[misc]
        record = form.instance
        if is_logged(type(record)):
            write_changes(type(record), [RecordChange(record.pk, form.values_before, with_links(record))])
        for formset, known in zip(formsets, before, strict=True):
            write_rows(formset.model, known, type(record)._base_manager.get(pk=record.pk), formset)

    def delete_model(self, request: HttpRequest, obj: Model) -> None:
        with logging_deletion([obj]):
            super().delete_model(request, obj)  # type: ignore[misc]

    def delete_queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> None:
        with transaction.atomic(), logging_deletion(list(queryset)):
            super().delete_queryset(request, queryset)  # type: ignore[misc]


class RecordedPasswords:
    """The page that sets another user's password saves outside `save_model`."""

    def user_change_password(self, request: HttpRequest, id: str, form_url: str = "") -> Any:
        users = get_user_model()._base_manager.filter(pk=id) if id.isascii() and id.isdigit() else None
        with transaction.atomic(), logging_changes(*([users] if users is not None else [])):
            return super().user_change_password(request, id, form_url)  # type: ignore[misc]


def rows_before(formset: Any) -> dict[Any, RecordValues]:
    """The inline rows as they are recorded."""
    keys = [form.instance.pk for form in formset.initial_forms]
    return {record.pk: values_of(record) for record in formset.model._base_manager.filter(pk__in=keys)}


def write_rows(model: type[Model], before: dict[Any, RecordValues], parent: Model, formset: Any) -> None:
    owned = model._base_manager.filter(**{formset.fk.name: parent.pk}) if hasattr(formset, "fk") else ()
    after = {record.pk: values_of(record) for record in owned}
    write_changes(model, [RecordChange(pk, before.get(pk), after.get(pk)) for pk in {*before, *after}])


def recorded(models: Any, admin_class: type[Any]) -> type[Any]:
    more: tuple[type[Any], ...] = (RecordedPasswords,) if hasattr(admin_class, "user_change_password") else ()
    for model in models if isinstance(models, list | tuple) else (models,):
        more = (*MORE.get(model, ()), *more)
    return type(f"Recorded{admin_class.__name__}", (*more, RecordedAdmin, admin_class), {})


MORE: dict[Any, tuple[type[Any], ...]] = {
    Item: (ReadsDescriptions, SHOWN_BEFORE[Item]),
    Specification: (SHOWN_BEFORE[Specification],),
    Drive: (TicksEnvironment, ShowsWhatDriveTouches),
    Position: (ShowsWhatPositionTouches,),
    Group: (KeepsRoles, NamesPermissions),
    get_user_model(): (KeepsAdministrators, NamesPermissions, HandsOutLinks),
}
"""What goes before the page of a record."""


class PlantAdminSite(admin.AdminSite):
    login_form = AdminSignInForm
    site_header = index_title = _("Administration")
    site_title = _("Chain drive spares")

    def password_change(self, request: HttpRequest, extra_context: Any = None) -> Any:
        users = get_user_model()._base_manager.filter(pk=request.user.pk or 0)
        with transaction.atomic(), logging_changes(users):
            return super().password_change(request, extra_context)

    def register(self, model_or_iterable: Any, admin_class: type[Any] | None = None, **options: Any) -> None:
        for model in (
            model_or_iterable if isinstance(model_or_iterable, list | tuple) else (model_or_iterable,)
        ):
            name_record(model)
        super().register(
            model_or_iterable, recorded(model_or_iterable, admin_class or admin.ModelAdmin), **options
        )
