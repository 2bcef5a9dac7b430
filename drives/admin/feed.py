"""Work orders, messages, codes, meter readings and approvals, read-only."""

from django.contrib import admin

from drives.models import (
    Approval,
    CodeWord,
    InboundMessage,
    MeterReading,
    NeededPart,
    RecordedVerdict,
    WorkOrder,
)
from inventory.admin.pages import ReadOnlyAdmin


@admin.register(WorkOrder)
class WorkOrderAdmin(ReadOnlyAdmin):
    list_display = ("source", "external_id", "title", "kind", "status", "position", "needed_by", "closed_at")
    list_filter = ("status", "kind", "source")
    search_fields = ("external_id", "title", "position__tag")


@admin.register(NeededPart)
class NeededPartAdmin(ReadOnlyAdmin):
    list_display = ("work_order", "stock_number", "quantity")
    search_fields = ("stock_number", "work_order__external_id")


@admin.register(InboundMessage)
class InboundMessageAdmin(ReadOnlyAdmin):
    list_display = ("source", "kind", "external_id", "version_at", "outcome", "received_at", "tries")
    list_filter = ("outcome", "kind", "source")
    search_fields = ("external_id",)


@admin.register(CodeWord)
class CodeWordAdmin(ReadOnlyAdmin):
    list_display = ("source", "field", "code", "word", "seen", "read_by_name")
    list_filter = ("source", "field", ("word", admin.EmptyFieldListFilter))
    search_fields = ("code", "word")


@admin.register(MeterReading)
class MeterReadingAdmin(ReadOnlyAdmin):
    list_display = ("position", "at", "hours", "is_reset", "source", "external_id")
    list_filter = ("source", "is_reset")
    search_fields = ("position__tag", "external_id")


@admin.register(Approval)
class ApprovalAdmin(ReadOnlyAdmin):
    list_select_related = ("installation__position",)
    list_display = ("installation", "approved_by", "reference", "until_on", "inspect_by", "recorded_at")
    search_fields = ("approved_by", "reference", "installation__position__tag")


@admin.register(RecordedVerdict)
class RecordedVerdictAdmin(ReadOnlyAdmin):
    list_display = ("position", "item", "grade", "reason", "recorded_at", "recorded_by_name")
    list_filter = ("grade",)
    search_fields = ("position__tag", "item__stock_number", "quote")
