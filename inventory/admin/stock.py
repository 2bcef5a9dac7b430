"""Stock levels, pieces, ledger and reservations, read-only."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.pages import ReadOnlyAdmin
from inventory.models import Reservation, StockEntry, StockLevel, StockPiece


@admin.register(StockLevel)
class StockLevelAdmin(ReadOnlyAdmin):
    list_display = ("item", "storeroom", "bin", "condition", "on_hand", "reserved", "available")
    list_filter = ("storeroom", "condition")
    search_fields = ("item__stock_number", "item__description", "bin__code")
    search_help_text = _("Stock number, description or bin.")


@admin.register(StockPiece)
class StockPieceAdmin(ReadOnlyAdmin):
    list_display = ("shown_item", "shown_storeroom", "links", "label")
    list_filter = ("level__storeroom",)
    list_select_related = ("level__item", "level__storeroom")
    search_fields = ("level__item__stock_number", "label")

    @admin.display(description=_("Item"), ordering="level__item__stock_number")
    def shown_item(self, piece: StockPiece) -> str:
        return piece.level.item.stock_number

    @admin.display(description=_("Storeroom"), ordering="level__storeroom__code")
    def shown_storeroom(self, piece: StockPiece) -> str:
        return piece.level.storeroom.code


@admin.register(StockEntry)
class StockEntryAdmin(ReadOnlyAdmin):
    list_display = (
        "id",
        "occurred_at",
        "kind",
        "item",
        "storeroom",
        "condition",
        "change",
        "balance_after",
        "work_order",
        "reference",
        "recorded_by_name",
    )
    list_filter = ("kind", "condition", "storeroom")
    search_fields = ("item__stock_number", "work_order", "reference", "position", "recorded_by_name")
    search_help_text = _("Stock number, work order, reference, position or who booked it.")


@admin.register(Reservation)
class ReservationAdmin(ReadOnlyAdmin):
    list_display = (
        "work_order",
        "item",
        "storeroom",
        "quantity",
        "open_quantity",
        "state",
        "expires_at",
        "reserved_by_name",
    )
    list_filter = ("state", "storeroom")
    search_fields = ("item__stock_number", "work_order", "reserved_by_name")
