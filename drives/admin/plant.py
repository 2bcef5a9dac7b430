"""Plants, areas and equipment."""

from django.contrib import admin

from drives.models import Area, Equipment, Plant
from inventory.admin.pages import RecordAdmin


@admin.register(Plant)
class PlantAdmin(RecordAdmin):
    list_display = ("code", "name", "storeroom", "machine_shop", "timezone")
    search_fields = ("code", "name")


@admin.register(Area)
class AreaAdmin(RecordAdmin):
    list_display = ("code", "name", "plant")
    list_filter = ("plant",)
    search_fields = ("code", "name", "plant__code")


@admin.register(Equipment)
class EquipmentAdmin(RecordAdmin):
    list_display = ("tag", "name", "area", "standby")
    list_filter = ("standby", "area__plant")
    list_select_related = ("area__plant",)
    search_fields = ("tag", "name", "area__code")
