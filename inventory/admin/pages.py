"""Base classes: records that people edit, and read-only records that a writer function wrote."""

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.http import HttpRequest

if TYPE_CHECKING:
    RecordAdmin = admin.ModelAdmin[Any]
    RowsInline = admin.TabularInline[Any, Any]
else:
    RecordAdmin = admin.ModelAdmin
    RowsInline = admin.TabularInline


class ReadOnlyAdmin(RecordAdmin):
    """Shows and searches; every change goes through the function that writes the table."""

    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
