"""Duplicates and merges, read-only."""

from django.contrib import admin

from inventory.admin.pages import ReadOnlyAdmin
from inventory.models import DuplicateGroup, DuplicateMember, DuplicateShelf, Merge, MergeLine


@admin.register(DuplicateGroup)
class DuplicateGroupAdmin(ReadOnlyAdmin):
    list_display = ("pk", "likeness", "yearly_cost", "excess_value", "currency", "found_at")
    list_filter = ("likeness",)
    search_fields = ("members__item__stock_number",)


@admin.register(DuplicateMember)
class DuplicateMemberAdmin(ReadOnlyAdmin):
    list_display = ("group", "item", "demand_per_year")
    search_fields = ("item__stock_number",)


@admin.register(DuplicateShelf)
class DuplicateShelfAdmin(ReadOnlyAdmin):
    list_display = ("group", "storeroom", "pieces_together")
    list_filter = ("storeroom",)
    search_fields = ("storeroom__code",)


@admin.register(Merge)
class MergeAdmin(ReadOnlyAdmin):
    list_display = ("item", "into", "state", "merged_at", "merged_by_name", "undone_at")
    list_filter = ("state",)
    search_fields = ("item__stock_number", "into__stock_number")


@admin.register(MergeLine)
class MergeLineAdmin(ReadOnlyAdmin):
    list_display = ("merge", "step", "storeroom", "condition", "quantity", "record_id")
    list_select_related = ("merge__item", "merge__into", "storeroom")
    list_filter = ("step", "storeroom")
    search_fields = ("merge__item__stock_number",)
