"""From when the record is complete, to edit; requests, and items that fit positions, read-only."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from drives.models import (
    Cover,
    CoverState,
    ItemPart,
    MissingAttribute,
    PlantEstimate,
    PoolEstimate,
    RecordStart,
    Request,
    StoredDemand,
    StoredNeed,
)
from inventory.admin.pages import ReadOnlyAdmin, RecordAdmin


@admin.register(Request)
class RequestAdmin(ReadOnlyAdmin):
    list_display = (
        "at",
        "item",
        "position",
        "storeroom",
        "quantity",
        "result",
        "issued_item",
        "work_order",
        "reference",
        "retracted_at",
    )
    list_filter = ("result", "storeroom", "is_planned", ("retracted_at", admin.EmptyFieldListFilter))
    search_fields = ("reference", "item__stock_number", "position__tag", "work_order")
    search_help_text = _("Reference, stock number, tag of the position or work order.")


@admin.register(RecordStart)
class RecordStartAdmin(RecordAdmin):
    list_display = ("storeroom", "source", "complete_from", "proposed_from", "note")
    list_filter = ("source", "storeroom")
    search_fields = ("storeroom__code", "note")
    readonly_fields = ("proposed_from", "reason")


@admin.register(Cover)
class CoverAdmin(ReadOnlyAdmin):
    list_display = ("position", "item", "grade", "work_minutes", "work_basis")
    list_filter = ("grade",)
    search_fields = ("position__tag", "item__stock_number")


@admin.register(CoverState)
class CoverStateAdmin(ReadOnlyAdmin):
    list_display = ("position", "inputs_hash")
    search_fields = ("position__tag",)


@admin.register(StoredDemand)
class StoredDemandAdmin(ReadOnlyAdmin):
    list_display = ("position", "as_of", "pieces", "years")
    search_fields = ("position__tag",)


@admin.register(StoredNeed)
class StoredNeedAdmin(ReadOnlyAdmin):
    list_display = ("item", "storeroom", "as_of")
    list_filter = ("storeroom",)
    list_select_related = ("item", "storeroom")
    search_fields = ("item__stock_number",)


@admin.register(ItemPart)
class ItemPartAdmin(ReadOnlyAdmin):
    list_display = ("item", "part")
    list_select_related = ("item",)
    search_fields = ("item__stock_number",)


@admin.register(PlantEstimate)
class PlantEstimateAdmin(ReadOnlyAdmin):
    list_display = ("until", "inputs_digest")


@admin.register(PoolEstimate)
class PoolEstimateAdmin(ReadOnlyAdmin):
    list_display = ("part", "storeroom", "jobs", "exposure_years")
    list_select_related = ("storeroom",)
    search_fields = ("storeroom__code",)


@admin.register(MissingAttribute)
class MissingAttributeAdmin(ReadOnlyAdmin):
    list_display = ("item", "attribute", "position", "is_alone")
    list_filter = ("attribute", "is_alone")
    list_select_related = ("item", "position")
    search_fields = ("item__stock_number", "position__tag")
    search_help_text = _("Stock number, or tag of the position.")
