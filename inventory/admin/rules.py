"""Rules and shop times of the plant."""

from django.contrib import admin

from inventory.admin.pages import RecordAdmin
from inventory.models import PlantSetting, Rule, ShopTime


@admin.register(Rule)
class RuleAdmin(RecordAdmin):
    list_display = ("name", "value", "note")
    search_fields = ("name", "note")


@admin.register(PlantSetting)
class PlantSettingAdmin(RecordAdmin):
    list_display = ("name", "value", "note")
    search_fields = ("name", "note")


@admin.register(ShopTime)
class ShopTimeAdmin(RecordAdmin):
    list_display = ("operation", "minutes", "basis", "note")
    list_filter = ("basis",)
    search_fields = ("operation", "note")
