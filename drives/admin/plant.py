"""Plants, areas and equipment."""

from django.contrib import admin

from drives.models import Area, Equipment, Plant
from inventory.admin.pages import RecordAdmin


@admin.register(Plant)
class PlantAdmin(RecordAdmin):
    list_display = ("code", "name", "storeroom", "machine_shop", "timezone")
    list_select_related = ("storeroom", "machine_shop")
    search_fields = ("code", "name")
    autocomplete_fields = ("storeroom", "machine_shop")


@admin.register(Area)
class AreaAdmin(RecordAdmin):
    list_display = ("code", "name", "plant")
    list_filter = ("plant",)
    list_select_related = ("plant",)
    search_fields = ("code", "name", "plant__code")
    autocomplete_fields = ("plant",)


@admin.register(Equipment)
class EquipmentAdmin(RecordAdmin):
    list_display = ("tag", "name", "area", "standby")
    list_filter = ("standby", "area__plant")
    list_select_related = ("area__plant",)
    search_fields = ("tag", "name", "area__code")
    autocomplete_fields = ("area",)
