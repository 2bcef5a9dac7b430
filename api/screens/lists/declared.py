"""Which records are listed on pages, with their columns and filters; how they are found and ordered is declared for the API."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

BY_FILE = _("Nothing is recorded yet. Bring it in as a file, or let another system send it.")


@dataclass(frozen=True)
class ListPage:
    """`columns` and `filters` are names of the API. An empty list says how its first row comes, and leads there."""

    title: str | Promise
    path: str
    columns: str
    filters: str = ""
    begins: str | Promise = BY_FILE
    begins_at: str = ""
    """Name of a page; empty: a file of this kind is brought in."""

    @property
    def column_names(self) -> list[str]:
        return self.columns.split()

    @property
    def filter_names(self) -> list[str]:
        return self.filters.split()

    @property
    def first_step(self) -> tuple[str, str]:
        """Where the first row comes from, and the name of that page."""
        if self.begins_at:
            return reverse(f"screens:{self.begins_at}"), str(PLACES[self.begins_at])
        return f"{reverse('screens:imports')}?kind={self.path}#send", str(PLACES["imports"])


LISTS: dict[str, ListPage] = {
    "items": ListPage(
        _("Items"),
        "items",
        "stock_number description on_hand reserved available unit lifecycle maker maker_part_number unit_cost currency",
        "lifecycle stocked holding_reason maker",
    ),
    "stock": ListPage(
        _("Stock"),
        "stock",
        "item description storeroom bin condition on_hand reserved available unit last_counted_at",
        "storeroom condition on_hand__gte last_counted_at__lte",
        _("Nothing is in stock yet. Open an item to receive it or to count it."),
        "home",
    ),
    "positions": ListPage(
        _("Positions"),
        "positions",
        "tag name drive plant role teeth shaft_diameter_mm bush_size fitted",
        "plant area drive role",
    ),
    "drives": ListPage(
        _("Drives"),
        "drives",
        "tag name equipment plant chain strands power_kw driver_speed_rpm criticality downtime_cost_per_hour currency",
        "plant area criticality chain lifting",
    ),
    "equipment": ListPage(_("Equipment"), "equipment", "tag name area plant standby", "plant area standby"),
    "storerooms": ListPage(
        _("Storerooms"), "storerooms", "code name site timezone pick_minutes call_out_minutes", "site"
    ),
    "bins": ListPage(_("Bins"), "bins", "storeroom code", "storeroom"),
    "movements": ListPage(
        _("Movements"),
        "movements",
        "occurred_at kind item storeroom condition change balance_after unit work_order position supplier reason recorded_by",
        "kind storeroom item work_order position supplier occurred_at__gte occurred_at__lte expected_back_on__lte",
        _("Nothing has been booked yet. Open an item to receive, issue or count it."),
        "home",
    ),
    "reservations": ListPage(
        _("Reservations"),
        "reservations",
        "work_order item storeroom quantity open_quantity unit state expires_at reserved_by",
        "state storeroom work_order",
        _("Nothing is reserved. Open the position of the job, and reserve what fits there."),
        "home",
    ),
    "orders": ListPage(
        _("Supply orders"),
        "supply-orders",
        "external_id supplier item storeroom quantity received outstanding unit ordered_at promised_on status emergency unit_price currency",
        "status storeroom item supplier emergency promised_on__lte",
        _("No order is recorded. Orders come as a file or from the purchasing system."),
    ),
    "jobs": ListPage(
        _("Work orders"),
        "work-orders",
        "external_id title kind status position equipment needed_by opened_at closed_at",
        "status kind position needed_by__lte",
        _(
            "No work order has arrived. The work-order system of the plant sends them, or a file brings them in."
        ),
    ),
    "requests": ListPage(
        _("Requests"),
        "requests",
        "at item position storeroom quantity unit result issued_item work_order note",
        "result storeroom item position at__gte",
        _("Nothing was asked for yet. What is asked for and not filled is recorded at the item."),
        "home",
    ),
    "kits": ListPage(
        _("Kits"),
        "kits",
        "work_order storeroom needed_by place state staged_at made_by",
        "state storeroom",
        _("No kit is made. A kit holds the parts of a work order back until the job begins."),
        "jobs",
    ),
    "counts": ListPage(
        _("Counts"),
        "count-tasks",
        "item description storeroom condition cause due_on state assigned_to counted variance unit",
        "state storeroom cause due_on__lte",
        _(
            "No shelf is to be counted. The shelves to count are chosen every night; those worth measuring can be asked for now."
        ),
        "measuring",
    ),
    "messages": ListPage(
        _("Messages of the work-order system"),
        "inbound-messages",
        "received_at source kind external_id outcome reasons tries",
        "outcome source",
        _("No message has arrived. The work-order system sends them with a token, or a file brings them in."),
    ),
    "installations": ListPage(
        _("Installations"),
        "installations",
        "position item installed_at removed_at ended_by mechanism running_hours temporary_until approved_by work_order",
        "plant position item ended_by mechanism fitted awaits_approval temporary_until__lte inspect_by__lte",
    ),
    "questions": ListPage(
        _("Questions about fit"),
        "fit-questions",
        "created_at item storeroom position work_order answer answered_at answered_by",
        "answered storeroom item position",
        _("No part came back because it did not fit. A return with that reason opens a question here."),
        "home",
    ),
    "inspections": ListPage(
        _("Inspections"), "inspections", "at position drive elongation_percent hooked_teeth note", "position"
    ),
}
EXPLAINED = {
    "on_hand": "on-hand",
    "reserved": "reserved",
    "available": "available",
    "lifecycle": "lifecycle",
    "holding_reason": "holding-reason",
    "unit_cost": "price",
    "unit_price": "price",
    "last_counted_at": "last-counted",
    "criticality": "criticality",
    "downtime_cost_per_hour": "downtime-cost",
    "pick_minutes": "pick-minutes",
    "call_out_minutes": "pick-minutes",
    "change": "change",
    "balance_after": "change",
    "open_quantity": "open-quantity",
    "outstanding": "outstanding",
    "variance": "count-variance",
    "running_hours": "running-hours",
    "elongation_percent": "elongation",
    "outcome": "message-outcome",
}
"""Columns whose words or figures the page of help explains."""
NAMES: dict[str, Promise] = {
    "answer": _("Answer"),
    "answered": _("Answered"),
    "approved_by": _("Approved by"),
    "awaits_approval": _("Awaits approval"),
    "answered_at": _("Answered on"),
    "answered_by": _("Answered by"),
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
    "created_at": _("Opened"),
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
    "equipment": pgettext_lazy("of a drive", "Equipment"),
    "expected_back_on": _("Expected back"),
    "expires_at": _("Ends"),
    "external_id": _("Number"),
    "fitted": _("Fitted"),
    "holding_reason": _("Stocked for"),
    "hooked_teeth": _("Hooked teeth"),
    "inspect_by": _("To inspect by"),
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
    "reasons": _("Waits for"),
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
    "supplier": _("Supplier"),
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
LENGTHS: dict[str, Promise] = {"shaft_diameter_mm": _("Shaft")}
"""Columns of lengths, headed as on a page, where each cell has the unit of its reader; in a file they are numbers in mm."""
PLACES: dict[str, Promise] = {
    "home": _("Find an item or a position"),
    "imports": _("Bring in a file"),
    "jobs": _("Jobs"),
    "measuring": _("What to measure"),
}
"""Where an empty list leads."""
OPENS = {
    "item": "screens:item",
    "stock_number": "screens:item",
    "issued_item": "screens:item",
    "fitted": "screens:item",
    "position": "screens:position",
    "drive": "screens:drive",
}
"""Columns whose cells lead to a page; a tag leads to that of its own list."""
ACTS = {
    "orders": ("external_id", "screens:delivery"),
    "counts": ("state", "screens:count"),
    "questions": ("created_at", "screens:question"),
    "kits": ("work_order", "screens:kit"),
}
"""Lists whose rows are something to do: the column that leads to the page where it is done, by the id of the row."""
NEW = {"kits": ("screens:make_up", _("Make up a kit"))}
"""Lists to which a page of its own adds a row, for who may book."""
TAGS = {"positions": "screens:position", "drives": "screens:drive"}
