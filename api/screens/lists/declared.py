"""Which records are listed on pages, with their columns and filters; how they are found and ordered is declared for the API."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class ListPage:
    """`columns` and `filters` are names of the API."""

    title: str | Promise
    path: str
    columns: str
    filters: str = ""

    @property
    def column_names(self) -> list[str]:
        return self.columns.split()

    @property
    def filter_names(self) -> list[str]:
        return self.filters.split()


LISTS: dict[str, ListPage] = {
    "items": ListPage(
        _("Items"),
        "items",
        "stock_number description maker maker_part_number lifecycle on_hand reserved available unit_cost currency",
        "lifecycle stocked holding_reason maker",
    ),
    "stock": ListPage(
        _("Stock"),
        "stock",
        "item description storeroom bin condition on_hand reserved available unit last_counted_at",
        "storeroom condition on_hand__gte last_counted_at__lte",
    ),
    "positions": ListPage(
        _("Positions"),
        "positions",
        "tag name drive plant role teeth shaft_diameter_mm bush_size fitted",
        "plant drive role",
    ),
    "drives": ListPage(
        _("Drives"),
        "drives",
        "tag name equipment plant chain strands power_kw driver_speed_rpm criticality downtime_cost_per_hour currency",
        "plant criticality chain lifting",
    ),
    "equipment": ListPage(_("Equipment"), "equipment", "tag name area plant standby", "plant standby"),
    "storerooms": ListPage(
        _("Storerooms"), "storerooms", "code name site timezone pick_minutes call_out_minutes", "site"
    ),
    "bins": ListPage(_("Bins"), "bins", "storeroom code", "storeroom"),
    "movements": ListPage(
        _("Movements"),
        "movements",
        "occurred_at kind item storeroom condition change balance_after work_order position reason recorded_by",
        "kind storeroom item work_order position occurred_at__gte occurred_at__lte",
    ),
    "reservations": ListPage(
        _("Reservations"),
        "reservations",
        "work_order item storeroom quantity open_quantity state expires_at reserved_by",
        "state storeroom work_order",
    ),
    "orders": ListPage(
        _("Supply orders"),
        "supply-orders",
        "external_id item storeroom quantity received outstanding ordered_at promised_on status emergency unit_price currency",
        "status storeroom item emergency promised_on__lte",
    ),
    "jobs": ListPage(
        _("Work orders"),
        "work-orders",
        "external_id title kind status position equipment needed_by opened_at closed_at",
        "status kind position needed_by__lte",
    ),
    "requests": ListPage(
        _("Requests"),
        "requests",
        "at item position storeroom quantity result issued_item work_order note",
        "result storeroom item position at__gte",
    ),
    "kits": ListPage(
        _("Kits"), "kits", "work_order storeroom needed_by place state staged_at made_by", "state storeroom"
    ),
    "counts": ListPage(
        _("Counts"),
        "count-tasks",
        "item description storeroom condition cause due_on state assigned_to counted variance",
        "state storeroom cause due_on__lte",
    ),
    "messages": ListPage(
        _("Messages of the work-order system"),
        "inbound-messages",
        "received_at source kind external_id outcome tries",
        "outcome source",
    ),
    "installations": ListPage(
        _("Installations"),
        "installations",
        "position item installed_at removed_at ended_by mechanism running_hours temporary_until work_order",
        "plant position item ended_by mechanism",
    ),
    "inspections": ListPage(
        _("Inspections"), "inspections", "at position drive elongation_percent hooked_teeth note", "position"
    ),
}
NAMES: dict[str, Promise] = {
    "age_basis": _("Age basis"),
    "area": _("Area"),
    "assigned_to": _("Assigned to"),
    "at": _("At"),
    "available": _("Available"),
    "balance_after": _("Balance"),
    "bin": _("Bin"),
    "bush_size": _("Bush"),
    "call_out_minutes": _("Call-out, min"),
    "cause": _("Why"),
    "chain": _("Chain"),
    "change": _("Change"),
    "closed_at": _("Closed"),
    "code": _("Code"),
    "condition": _("Condition"),
    "counted": _("Counted"),
    "criticality": _("Criticality"),
    "currency": _("Currency"),
    "description": _("Description"),
    "downtime_cost_per_hour": _("Cost of an hour's stop"),
    "drive": _("Drive"),
    "driver_speed_rpm": _("Speed, rpm"),
    "due_on": _("Due"),
    "elongation_percent": _("Chain wear, %"),
    "emergency": _("Emergency"),
    "ended_by": _("Ended by"),
    "equipment": _("Equipment"),
    "expires_at": _("Ends"),
    "external_id": _("Number"),
    "fitted": _("Fitted"),
    "holding_reason": _("Stocked for"),
    "hooked_teeth": _("Hooked teeth"),
    "installed_at": _("Fitted on"),
    "issued_item": _("Issued"),
    "item": _("Item"),
    "kind": _("Kind"),
    "last_counted_at": _("Last counted"),
    "lifecycle": _("Life"),
    "lifting": _("Lifting drive"),
    "made_by": _("Made by"),
    "maker": _("Maker"),
    "maker_part_number": _("Maker's number"),
    "mechanism": _("Mechanism"),
    "name": _("Name"),
    "needed_by": _("Needed by"),
    "note": _("Note"),
    "occurred_at": _("At"),
    "outcome": _("Outcome"),
    "on_hand": _("On hand"),
    "open_quantity": _("Still held"),
    "opened_at": _("Opened"),
    "ordered_at": _("Ordered"),
    "outstanding": _("To come"),
    "pick_minutes": _("Picking, min"),
    "place": _("Place"),
    "plant": _("Plant"),
    "position": _("Position"),
    "power_kw": _("Power, kW"),
    "promised_on": _("Promised"),
    "quantity": _("Quantity"),
    "reason": _("Reason"),
    "received": _("Received"),
    "received_at": _("Received"),
    "recorded_by": _("By"),
    "removed_at": _("Removed on"),
    "reserved": _("Reserved"),
    "reserved_by": _("Reserved by"),
    "result": _("Result"),
    "role": _("Role"),
    "running_hours": _("Hours run"),
    "shaft_diameter_mm": _("Shaft, mm"),
    "site": _("Site"),
    "source": _("Source"),
    "staged_at": _("Staged"),
    "standby": _("Has a standby"),
    "state": _("State"),
    "status": _("Status"),
    "stock_number": _("Stock number"),
    "stocked": _("Stock item"),
    "storeroom": _("Storeroom"),
    "strands": _("Strands"),
    "tag": _("Tag"),
    "teeth": _("Teeth"),
    "temporary_until": _("Temporary until"),
    "timezone": _("Time zone"),
    "title": _("Title"),
    "tries": _("Tries"),
    "unit": _("Unit"),
    "unit_cost": _("Price"),
    "unit_price": _("Price"),
    "variance": _("Difference"),
    "work_order": _("Work order"),
}
OPENS = {
    "item": "screens:item",
    "stock_number": "screens:item",
    "issued_item": "screens:item",
    "fitted": "screens:item",
    "position": "screens:position",
    "drive": "screens:drive",
}
"""Columns whose cells lead to a page; a tag leads to that of its own list."""
TAGS = {"positions": "screens:position", "drives": "screens:drive"}
