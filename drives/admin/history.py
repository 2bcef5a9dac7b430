"""Installations, inspections and rules for substitutes, read-only."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from drives.models import Inspection, Installation, SubstitutionRule
from inventory.admin.pages import ReadOnlyAdmin


@admin.register(Installation)
class InstallationAdmin(ReadOnlyAdmin):
    list_display = (
        "position",
        "item",
        "specification",
        "installed_at",
        "removed_at",
        "ended_by",
        "mechanism",
        "running_hours",
        "age_basis",
    )
    list_filter = ("ended_by", "mechanism", "age_basis", ("removed_at", admin.EmptyFieldListFilter))
    search_fields = ("position__tag", "item__stock_number", "work_order")
    search_help_text = _("Tag of the position, stock number or work order.")


@admin.register(Inspection)
class InspectionAdmin(ReadOnlyAdmin):
    list_display = ("position", "at", "elongation_percent", "hooked_teeth", "running_hours")
    list_filter = ("hooked_teeth",)
    search_fields = ("position__tag", "note")


@admin.register(SubstitutionRule)
class SubstitutionRuleAdmin(ReadOnlyAdmin):
    list_display = (
        "item",
        "kind",
        "instead_of",
        "position",
        "drive",
        "plant",
        "given_by",
        "valid_from",
        "valid_until",
        "withdrawn_at",
    )
    list_filter = ("kind", ("withdrawn_at", admin.EmptyFieldListFilter))
    search_fields = ("item__stock_number", "instead_of__stock_number", "position__tag", "drive__tag")
    search_help_text = _("Stock number, or tag of a position or drive.")
