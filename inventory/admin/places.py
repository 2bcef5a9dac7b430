"""Storerooms, bins, machine shops, opening hours and transfer times."""

from django.contrib import admin

from inventory.admin.pages import RecordAdmin, RowsInline
from inventory.models import Bin, MachineShop, OpeningHours, Storeroom, TransferTime


class OpeningHoursInline(RowsInline):
    model = OpeningHours
    fields = ("weekday", "opens", "closes")
    extra = 0


@admin.register(MachineShop)
class MachineShopAdmin(RecordAdmin):
    list_display = ("code", "name", "timezone", "call_out_minutes", "phone")
    search_fields = ("code", "name")
    inlines = (OpeningHoursInline,)


@admin.register(Storeroom)
class StoreroomAdmin(RecordAdmin):
    list_display = ("code", "name", "site", "machine_shop", "pick_minutes", "call_out_minutes")
    list_filter = ("site",)
    search_fields = ("code", "name", "site")
    inlines = (OpeningHoursInline,)


@admin.register(Bin)
class BinAdmin(RecordAdmin):
    list_display = ("code", "storeroom")
    list_filter = ("storeroom",)
    search_fields = ("code", "storeroom__code")


@admin.register(OpeningHours)
class OpeningHoursAdmin(RecordAdmin):
    list_display = ("__str__", "storeroom", "machine_shop")
    list_filter = ("weekday", "storeroom", "machine_shop")
    search_fields = ("storeroom__code", "machine_shop__code")


@admin.register(TransferTime)
class TransferTimeAdmin(RecordAdmin):
    list_display = ("__str__", "from_storeroom", "to_storeroom", "minutes")
    list_filter = ("from_storeroom", "to_storeroom")
    search_fields = ("from_storeroom__code", "to_storeroom__code")
