"""Drives and positions."""

from collections.abc import Sequence

from django.contrib import admin
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from drives.models import Drive, Position
from drives.substitutes.asked_positions import of_positions
from inventory.admin.pages import AskedAdmin, RecordAdmin, RowsInline, grouped
from inventory.descriptions.query import QueryFilter

DRIVE_FIELDS = (
    (None, ("tag", "name", "equipment", "criticality", "lifting")),
    (
        _("Chain"),
        (
            "chain_designation",
            "strands",
            "pitch_mm",
            "roller_diameter_mm",
            "inner_width_mm",
            "transverse_pitch_mm",
            "links",
        ),
    ),
    (
        _("Centres"),
        ("centre_distance_mm", "fixed_centres", "centre_adjustment_min_mm", "centre_adjustment_max_mm"),
    ),
    (
        _("Duty"),
        (
            *("power_kw", "driver_speed_rpm", "service_factor", "shock", "reversing", "hours_per_year"),
            "ratio_tolerance_percent",
        ),
    ),
    (
        _("Surroundings"),
        (
            *("lubrication", "environment", "temperature_c", "food_contact_required"),
            *("non_sparking_required", "hardened_teeth_required"),
        ),
    ),
    (_("Cost and time"), ("downtime_cost_per_hour", "currency", "fitting_minutes")),
    (_("Record"), ("in_use_from", "in_use_until", "note", "created_at", "updated_at")),
)
POSITION_FIELDS = (
    (None, ("tag", "drive", "name", "role", "idler_kind", "requirement_basis")),
    (_("Teeth"), ("teeth", "minimum_teeth", "material", "hardened_teeth")),
    (_("Shaft"), ("shaft_kind", "shaft_diameter_mm", "hex_across_flats_mm", "bush_size", "hub_style")),
    (_("Key"), ("key_width_mm", "key_height_mm", "keyway_depth_mm", "key_standard")),
    (
        _("Space"),
        (
            "envelope_outside_diameter_mm",
            "envelope_hub_diameter_mm",
            "envelope_length_through_bore_mm",
        ),
    ),
    (_("Record"), ("in_use_from", "in_use_until", "note", "created_at", "updated_at")),
)


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
    search_help_text = _("Tag, name, chain or the tag of the equipment.")
    fieldsets = grouped(DRIVE_FIELDS)
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
    search_help_text = _("Tag or name of the position, or tag of the drive.")
    show_full_result_count = False

    fieldsets = grouped(POSITION_FIELDS)

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        return of_positions(filters)
