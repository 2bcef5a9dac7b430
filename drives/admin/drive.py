"""Drives and positions."""

from collections.abc import Sequence

from django.contrib import admin
from django.db.models import Q

from drives.models import Drive, Position
from drives.substitutes.asked_positions import of_positions
from inventory.admin.pages import AskedAdmin, RecordAdmin, RowsInline
from inventory.descriptions.query import QueryFilter


class PositionInline(RowsInline):
    model = Position
    fields = ("tag", "name", "role", "teeth", "shaft_kind", "shaft_diameter_mm")
    extra = 0
    show_change_link = True


@admin.register(Drive)
class DriveAdmin(RecordAdmin):
    list_display = (
        "tag",
        "name",
        "equipment",
        "chain_designation",
        "strands",
        "power_kw",
        "criticality",
        "lifting",
    )
    list_filter = ("criticality", "lifting", "lubrication", "equipment__area__plant")
    search_fields = ("tag", "name", "chain_designation", "equipment__tag")
    search_help_text = "Tag, name, chain or the tag of the equipment."
    inlines = (PositionInline,)
    show_full_result_count = False


@admin.register(Position)
class PositionAdmin(AskedAdmin):
    list_display = (
        "tag",
        "drive",
        "role",
        "teeth",
        "shaft_kind",
        "shaft_diameter_mm",
        "bush_size",
        "requirement_basis",
    )
    list_filter = ("role", "shaft_kind", "requirement_basis")
    search_fields = ("tag", "name", "drive__tag")
    named_by = ("tag",)
    search_help_text = "Tag or name of the position, or tag of the drive."
    show_full_result_count = False

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        return of_positions(filters)
