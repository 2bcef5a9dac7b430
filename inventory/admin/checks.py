"""Events, kits, counts, fit questions and items being run down, read-only."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.pages import ReadOnlyAdmin
from inventory.models import CountTask, Event, FitQuestion, Kit, Lease, RunDown


@admin.register(Event)
class EventAdmin(ReadOnlyAdmin):
    list_display = ("sequence", "type", "aggregate", "version", "occurred_at")
    list_filter = ("type",)
    search_fields = ("aggregate", "type")


@admin.register(Kit)
class KitAdmin(ReadOnlyAdmin):
    list_display = ("work_order", "storeroom", "needed_by", "place", "state", "created_at")
    list_filter = ("state", "storeroom")
    search_fields = ("work_order", "place")


@admin.register(CountTask)
class CountTaskAdmin(ReadOnlyAdmin):
    list_display = ("item", "storeroom", "condition", "cause", "due_on", "state", "counted", "counted_at")
    list_filter = ("state", "cause", "storeroom")
    search_fields = ("item__stock_number",)


@admin.register(FitQuestion)
class FitQuestionAdmin(ReadOnlyAdmin):
    list_display = ("item", "position", "work_order", "measurement", "answered_at", "answered_by_name")
    list_filter = (("answered_at", admin.EmptyFieldListFilter),)
    search_fields = ("item__stock_number", "position", "work_order")

    @admin.display(description=_("Measure"))
    def measurement(self, question: FitQuestion) -> str:
        code: str = question.measure_fact.get("code", question.measure)
        return code.replace("_", " ")


@admin.register(Lease)
class LeaseAdmin(ReadOnlyAdmin):
    list_display = ("name", "holder", "until")
    search_fields = ("name", "holder")


@admin.register(RunDown)
class RunDownAdmin(ReadOnlyAdmin):
    list_display = ("item", "reason", "marked_at", "marked_by_name", "undone_at", "undone_by_name")
    list_filter = (("undone_at", admin.EmptyFieldListFilter),)
    search_fields = ("item__stock_number",)
