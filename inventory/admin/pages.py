"""Base classes: records that people edit, and read-only records that a writer function wrote."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib import admin
from django.db import models
from django.db.models import Q, QuerySet
from django.forms.models import BaseInlineFormSet
from django.http import HttpRequest
from django.utils.text import capfirst

from inventory.catalogue.asked_parts import is_called, with_words
from inventory.descriptions.query import QueryFilter, read_query

if TYPE_CHECKING:
    PlainAdmin = admin.ModelAdmin[Any]
    TabularRows = admin.TabularInline[Any, Any]
else:
    PlainAdmin = admin.ModelAdmin
    TabularRows = admin.TabularInline

STAMPS = ("created_at", "updated_at")


class PlainDecimalField(forms.DecimalField):
    """Shows a number as it was entered: 12.7, where the column keeps 12.700000. With a point, as a field for numbers takes it."""

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, Decimal):
            return value
        text = f"{value:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text


OVERRIDES: Any = {models.DecimalField: {"form_class": PlainDecimalField}}


def grouped(groups: Iterable[tuple[Any, Sequence[str]]]) -> tuple[tuple[Any, Any], ...]:
    """Fields under headings."""
    return tuple((title, {"fields": tuple(fields)}) for title, fields in groups)


class LabelledRows(BaseInlineFormSet):  # type: ignore[type-arg]
    """The box that deletes a row stands under a heading, and needs a name of its own."""

    def add_fields(self, form: Any, index: int | None) -> None:
        super().add_fields(form, index)
        if box := form.fields.get("DELETE"):
            box.widget.attrs["aria-label"] = str(box.label)


class RowsInline(TabularRows):
    """Rows under a record. The heading of a column is no label of its inputs: each has the name of its field."""

    formset = LabelledRows
    formfield_overrides = OVERRIDES

    def formfield_for_dbfield(self, db_field: Any, request: Any, **kwargs: Any) -> Any:
        field = super().formfield_for_dbfield(db_field, request, **kwargs)
        if field is not None:
            widget: Any = getattr(field.widget, "widget", field.widget)
            widget.attrs["aria-label"] = capfirst(str(field.label or db_field.verbose_name))
        return field


class RecordAdmin(PlainAdmin):
    """What a record refers to is read with its list and found by a search; its stamps are shown."""

    formfield_overrides = OVERRIDES

    def references(self) -> list[str]:
        return [field.name for field in self.model._meta.concrete_fields if field.is_relation]

    def get_list_select_related(self, request: HttpRequest) -> Any:
        return self.list_select_related or [name for name in self.references() if name in self.list_display]

    def get_autocomplete_fields(self, request: HttpRequest) -> Any:
        return self.references()

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        columns = {field.name for field in self.model._meta.concrete_fields}
        return (*self.readonly_fields, *(name for name in STAMPS if name in columns))


class AskedAdmin(RecordAdmin):
    """A search finds what is called so, else what has the attributes that are understood and the other words, else the words."""

    named_by: Sequence[str] = ()

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        raise NotImplementedError

    def get_search_results(
        self, request: HttpRequest, queryset: QuerySet[Any], search_term: str
    ) -> tuple[QuerySet[Any], bool]:
        readings = read_query(search_term).readings
        if readings and is_called(self.model, self.named_by, search_term):
            readings = ()
        for reading in readings:
            condition = self.asked_of(reading.filters)
            if condition is None:
                continue
            condition = with_words(condition, reading.words, self.search_fields)
            if self.model._default_manager.filter(condition).exists():
                return queryset.filter(condition), False
        return super().get_search_results(request, queryset, search_term)


class ReadOnlyAdmin(RecordAdmin):
    """Shows and searches; every change goes through the function that writes the table."""

    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
