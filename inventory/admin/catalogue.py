"""Items and specifications."""

from collections.abc import Sequence
from typing import Any

from django.contrib import admin
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from inventory.admin.pages import AskedAdmin, RecordAdmin, grouped
from inventory.catalogue.asked_parts import of_items
from inventory.descriptions.query import QueryFilter
from inventory.models import Item, Specification, with_stock_totals

PART_FIELDS = (
    (None, ("kind", "role_kind", "teeth")),
    (
        _("Chain"),
        (
            *("chain_designation", "strands", "pitch_mm", "roller_diameter_mm", "inner_width_mm"),
            *("transverse_pitch_mm", "single_cut"),
        ),
    ),
    (
        _("Bore"),
        ("bore_type", "bore_mm", "max_bore_mm", "bush_size", "hex_across_flats_mm", "set_screws"),
    ),
    (_("Key"), ("keyway_width_mm", "keyway_depth_mm", "key_standard", "key_height_mm", "key_length_mm")),
    (
        _("Hub and rim"),
        (
            *("hub_style", "hub_diameter_mm", "hub_diameter_2_mm", "length_through_bore_mm"),
            *("outside_diameter_mm", "tooth_width_mm", "mass_kg"),
        ),
    ),
    (
        _("Material"),
        ("material", "material_grade", "hardened_teeth", "food_contact", "non_sparking"),
    ),
    (_("Record"), ("created_at", "updated_at")),
)
ITEM_FIELDS = (
    (None, ("stock_number", "description", "specification", "unit", "maker", "maker_part_number")),
    (_("Stock"), ("stocked", "holding_reason", "shown_on_hand", "shown_reserved", "shown_available")),
    (_("Buying"), ("unit_cost", "currency", "lead_time_days")),
    (_("Life"), ("lifecycle", "replaced_by", "merged_into")),
    (_("Record"), ("note", "created_at", "updated_at")),
)


@admin.register(Specification)
class SpecificationAdmin(RecordAdmin):
    list_display = (
        "__str__",
        "kind",
        "chain_designation",
        "strands",
        "teeth",
        "hub_style",
        "bore_type",
        "bore_mm",
        "bush_size",
        "material",
    )
    list_filter = ("kind", "hub_style", "bore_type", "material", "hardened_teeth", "food_contact")
    search_fields = ("chain_designation", "=teeth", "bush_size", "material_grade", "items__stock_number")
    search_help_text = _("Chain, teeth, bush size, grade or the stock number of an item.")
    fieldsets = grouped(PART_FIELDS)
    show_full_result_count = False


@admin.register(Item)
class ItemAdmin(AskedAdmin):
    list_display = (
        "stock_number",
        "description",
        "specification",
        "unit",
        "shown_on_hand",
        "shown_reserved",
        "shown_available",
        "lifecycle",
        "holding_reason",
    )
    list_filter = ("lifecycle", "holding_reason", "unit", "stocked")
    search_fields = ("stock_number", "description", "maker", "maker_part_number")
    named_by = ("stock_number", "maker_part_number")
    search_help_text = _(
        "Stock number, maker's number, what it is (12B 19T bore 35), or words of the description."
    )
    fieldsets = grouped(ITEM_FIELDS)
    readonly_fields = ("shown_on_hand", "shown_reserved", "shown_available", "merged_into")
    show_full_result_count = False

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        return of_items(filters)

    def get_queryset(self, request: HttpRequest) -> QuerySet[Item]:
        return with_stock_totals(Item.objects.all())

    @admin.display(description=_("On hand"), ordering="on_hand")
    def shown_on_hand(self, item: Any) -> int:
        return getattr(item, "on_hand", 0)

    @admin.display(description=_("Reserved"), ordering="reserved")
    def shown_reserved(self, item: Any) -> int:
        return getattr(item, "reserved", 0)

    @admin.display(description=_("Available"), ordering="available")
    def shown_available(self, item: Any) -> int:
        return getattr(item, "available", 0)
