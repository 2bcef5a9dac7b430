"""Stock policies, targets and terms, to edit; supply orders, their deliveries, runs and recommendations, read-only."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from inventory.admin.pages import ReadOnlyAdmin, RecordAdmin
from inventory.models import (
    DeliveryCheck,
    Recommendation,
    ServiceTarget,
    StockingRun,
    StockingTerms,
    StockPolicy,
    SupplyOrder,
)


@admin.register(SupplyOrder)
class SupplyOrderAdmin(ReadOnlyAdmin):
    list_display = (
        "__str__",
        "supplier",
        "item",
        "storeroom",
        "quantity",
        "received_quantity",
        "status",
        "emergency",
        "ordered_at",
        "promised_on",
        "received_at",
    )
    list_filter = ("status", "emergency", "storeroom", "source")
    search_fields = ("external_id", "supplier", "item__stock_number", "item__description")
    search_help_text = _("Number of the order, supplier, stock number or description.")


@admin.register(DeliveryCheck)
class DeliveryCheckAdmin(ReadOnlyAdmin):
    list_display = (
        "id",
        "checked_at",
        "order",
        "item",
        "storeroom",
        "quantity",
        "outcome",
        "held_quantity",
        "received_quantity",
        "sent_back_quantity",
        "checked_by_name",
    )
    list_filter = ("outcome", "storeroom")
    list_select_related = ("order", "item", "storeroom")
    search_fields = ("reference", "order__external_id", "order__supplier", "item__stock_number")
    search_help_text = _("Reference, number of the order, supplier or stock number.")


@admin.register(StockPolicy)
class StockPolicyAdmin(RecordAdmin):
    list_display = (
        "item",
        "storeroom",
        "stocked",
        "reorder_point",
        "order_up_to",
        "review_on",
        "set_by_name",
    )
    list_filter = ("stocked", "storeroom")
    search_fields = ("item__stock_number", "item__description", "reason", "set_by_name")
    search_help_text = _("Stock number, description, reason or who set it.")
    readonly_fields = ("set_by_name",)
    show_full_result_count = False

    def save_model(self, request: HttpRequest, obj: StockPolicy, form: Any, change: bool) -> None:
        obj.set_by_name = request.user.get_username()
        super().save_model(request, obj, form, change)


@admin.register(ServiceTarget)
class ServiceTargetAdmin(RecordAdmin):
    list_display = ("importance", "kind", "value", "tolerable_wait_hours", "note")
    list_filter = ("kind",)
    search_fields = ("importance", "note")


@admin.register(StockingTerms)
class StockingTermsAdmin(RecordAdmin):
    list_display = (
        "__str__",
        "holding_rate_per_year",
        "order_cost",
        "currency",
        "hours_to_expedite",
        "planning_days",
        "staging_days",
        "chain_joints",
        "worst_grade",
    )
    search_fields = ("currency",)
    exclude = ("are_set",)

    def has_add_permission(self, request: HttpRequest) -> bool:
        """There is one row of terms."""
        return super().has_add_permission(request) and not StockingTerms.objects.exists()

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        form = super().get_form(request, obj, change=change, **kwargs)
        return form if change else first_terms(form)

    def save_model(self, request: HttpRequest, obj: StockingTerms, form: Any, change: bool) -> None:
        obj.are_set = True
        super().save_model(request, obj, form, change)


def first_terms(form: Any) -> Any:
    """The form that creates the one row of terms."""

    class FirstTerms(form):  # type: ignore[misc]
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self.instance.pk = 1

    return FirstTerms


@admin.register(StockingRun)
class StockingRunAdmin(ReadOnlyAdmin):
    list_display = (
        "id",
        "state",
        "as_of",
        "is_full",
        "done",
        "total",
        "changed",
        "started_at",
        "started_by_name",
    )
    list_filter = ("state", "is_full")
    search_fields = ("started_by_name", "error")


@admin.register(Recommendation)
class RecommendationAdmin(ReadOnlyAdmin):
    list_display = (
        "item",
        "storeroom",
        "state",
        "changed",
        "importance",
        "stocked",
        "reorder_point",
        "order_up_to",
        "run_id",
        "decided_by_name",
    )
    list_filter = ("state", "changed", "importance", "model", "storeroom")
    search_fields = ("item__stock_number", "item__description", "decided_by_name")
    search_help_text = _("Stock number, description or who decided.")
