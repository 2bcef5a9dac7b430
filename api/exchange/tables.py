"""The kinds of file: their columns, what names a row, and what a row refers to. The order is the order of loading."""

from dataclasses import dataclass, field

from django.db import models

from api.exchange import cells
from api.exchange.columns import Column, Lookup, columns_of
from drives.models import Area, Drive, Equipment, Inspection, Installation, Plant, Position, Request
from inventory.interchange.vocabulary import Environment
from inventory.models import (
    Bin,
    Item,
    MachineShop,
    OpeningHours,
    PartKind,
    Rule,
    ServiceTarget,
    ShopTime,
    Specification,
    StockEntry,
    StockPolicy,
    Storeroom,
    SupplyOrder,
    TransferTime,
)
from inventory.models.stocking import MOST_KEPT

LONGEST_TAG = 60
MOST_PIECES = 1_000_000


@dataclass(frozen=True)
class Table:
    """One kind of file. `key` names the columns that tell one row from another."""

    kind: str
    model: type[models.Model]
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    specification: tuple[Column, ...] = field(default=())

    @property
    def every_column(self) -> tuple[Column, ...]:
        return self.columns + self.specification

    @property
    def names_successors(self) -> bool:
        """Whether rows may refer to rows of the same file."""
        return any(column.lookup and column.lookup.in_file for column in self.columns)


SHOP = Lookup(MachineShop, ("code",), ("machine_shop",), "machine shop")
STOREROOM = Lookup(Storeroom, ("code",), ("storeroom",), "storeroom")
FROM_STOREROOM = Lookup(Storeroom, ("code",), ("from_storeroom",), "storeroom")
TO_STOREROOM = Lookup(Storeroom, ("code",), ("to_storeroom",), "storeroom")
BIN = Lookup(Bin, ("storeroom__code", "code"), ("to_storeroom|storeroom", "bin"), "bin")
PLANT = Lookup(Plant, ("code",), ("plant",), "plant")
AREA = Lookup(Area, ("plant__code", "code"), ("plant", "area"), "area")
EQUIPMENT = Lookup(Equipment, ("tag",), ("equipment",), "equipment")
DRIVE = Lookup(Drive, ("tag",), ("drive",), "drive")
POSITION = Lookup(Position, ("tag",), ("position",), "position")
PLACE = Lookup(Position, ("tag",), ("position",), "position", related=("drive",))
PART = Lookup(Item, ("stock_number",), ("item",), "item", related=("specification",))
ITEM = Lookup(Item, ("stock_number",), ("item",), "item")
ISSUED = Lookup(Item, ("stock_number",), ("issued_item",), "item")
SUCCESSOR = Lookup(Item, ("stock_number",), ("replaced_by",), "item", in_file=True)

CHAIN = {"chain": "chain_designation"}

PLACES = (
    Table(
        "machine-shops",
        MachineShop,
        ("code",),
        columns_of(MachineShop, "code name timezone call_out_minutes phone"),
    ),
    Table(
        "storerooms",
        Storeroom,
        ("code",),
        columns_of(
            Storeroom,
            "code name site timezone machine_shop pick_minutes call_out_minutes",
            lookups={"machine_shop": SHOP},
        ),
    ),
    Table(
        "bins",
        Bin,
        ("storeroom", "code"),
        columns_of(Bin, "storeroom code", required="storeroom", lookups={"storeroom": STOREROOM}),
    ),
    Table(
        "opening-hours",
        OpeningHours,
        ("storeroom", "machine_shop", "weekday", "opens"),
        columns_of(
            OpeningHours,
            "storeroom machine_shop weekday opens closes",
            lookups={"storeroom": STOREROOM, "machine_shop": SHOP},
        ),
    ),
    Table(
        "transfer-times",
        TransferTime,
        ("from_storeroom", "to_storeroom"),
        columns_of(
            TransferTime,
            "from_storeroom to_storeroom minutes",
            required="from_storeroom to_storeroom",
            lookups={"from_storeroom": FROM_STOREROOM, "to_storeroom": TO_STOREROOM},
        ),
    ),
    Table("shop-times", ShopTime, ("operation",), columns_of(ShopTime, "operation minutes basis note")),
    Table(
        "rules",
        Rule,
        ("name",),
        columns_of(Rule, "name value note", parsers={"name": cells.Code(60, words_only=True)}),
    ),
    Table(
        "plants",
        Plant,
        ("code",),
        columns_of(
            Plant,
            "code name timezone storeroom machine_shop",
            lookups={"storeroom": STOREROOM, "machine_shop": SHOP},
        ),
    ),
    Table(
        "areas",
        Area,
        ("plant", "code"),
        columns_of(Area, "plant code name", required="plant", lookups={"plant": PLANT}),
    ),
)

PLANT_OF_AREA = Column("plant", "", cells.Code(LONGEST_TAG), required=True)

DRIVES = (
    Table(
        "equipment",
        Equipment,
        ("tag",),
        (
            PLANT_OF_AREA,
            *columns_of(Equipment, "tag area name standby", required="area", lookups={"area": AREA}),
        ),
    ),
    Table(
        "drives",
        Drive,
        ("tag",),
        columns_of(
            Drive,
            "tag equipment name chain pitch_mm roller_diameter_mm inner_width_mm transverse_pitch_mm strands "
            "links centre_distance_mm centre_adjustment_min_mm centre_adjustment_max_mm fixed_centres power_kw "
            "driver_speed_rpm service_factor ratio_tolerance_percent lubrication environment temperature_c "
            "hours_per_year criticality downtime_cost_per_hour currency lifting reversing shock "
            "food_contact_required non_sparking_required hardened_teeth_required fitting_minutes in_use_from "
            "in_use_until note",
            required="equipment",
            renamed=CHAIN,
            parsers={"environment": cells.Words(tuple(Environment))},
            lookups={"equipment": EQUIPMENT},
        ),
    ),
    Table(
        "positions",
        Position,
        ("tag",),
        columns_of(
            Position,
            "tag drive name role idler_kind teeth minimum_teeth shaft_kind shaft_diameter_mm key_width_mm "
            "key_height_mm keyway_depth_mm key_standard hex_across_flats_mm bush_size hub_style material "
            "hardened_teeth envelope_outside_diameter_mm envelope_hub_diameter_mm "
            "envelope_length_through_bore_mm requirement_basis in_use_from in_use_until note",
            required="drive",
            lookups={"drive": DRIVE},
        ),
    ),
)

PART_KIND = Column("kind", "kind", cells.Word(tuple(PartKind.values)), blank="")
"""Empty for an item that no specification stands behind."""

ITEMS = Table(
    "items",
    Item,
    ("stock_number",),
    columns_of(
        Item,
        "stock_number description unit maker maker_part_number unit_cost currency lead_time_days stocked "
        "holding_reason lifecycle replaced_by note",
        lookups={"replaced_by": SUCCESSOR},
    ),
    (
        PART_KIND,
        *columns_of(
            Specification,
            "chain pitch_mm roller_diameter_mm inner_width_mm transverse_pitch_mm strands teeth role_kind "
            "hub_style bore_type bore_mm max_bore_mm keyway_width_mm keyway_depth_mm key_standard set_screws "
            "bush_size hex_across_flats_mm hub_diameter_mm hub_diameter_2_mm length_through_bore_mm "
            "outside_diameter_mm tooth_width_mm material material_grade hardened_teeth food_contact non_sparking "
            "single_cut key_height_mm key_length_mm mass_kg",
            renamed=CHAIN,
        ),
    ),
)

WHOLE = cells.Whole(0, MOST_PIECES)
HISTORY = (
    Table(
        "movements",
        StockEntry,
        ("reference",),
        (
            *columns_of(
                StockEntry,
                "reference kind item storeroom condition",
                required="reference item storeroom",
                lookups={"item": ITEM, "storeroom": STOREROOM},
            ),
            Column("bin", "bin", cells.Code(LONGEST_TAG), lookup=BIN),
            Column("quantity", "quantity", cells.Whole(1, MOST_PIECES)),
            Column("to_storeroom", "to_storeroom", cells.Code(LONGEST_TAG), lookup=TO_STOREROOM),
            Column("counted", "counted", WHOLE),
            Column("piece_links", "piece_links", cells.Whole(1, MOST_PIECES)),
            Column("position", "position", cells.Code(LONGEST_TAG), lookup=POSITION),
            *columns_of(StockEntry, "work_order reason unit_cost occurred_at"),
        ),
    ),
    Table(
        "installations",
        Installation,
        ("position", "installed_at"),
        columns_of(
            Installation,
            "position item installed_at installed_why removed_at ended_by mechanism cause part running_hours "
            "age_basis work_order temporary_until approved_by approval_reference inspect_by note",
            required="position item",
            lookups={"position": PLACE, "item": PART},
        ),
    ),
    Table(
        "inspections",
        Inspection,
        ("position", "at"),
        columns_of(
            Inspection,
            "position at elongation_percent hooked_teeth running_hours note",
            required="position",
            lookups={"position": PLACE},
        ),
    ),
)

DEMAND = (
    Table(
        "requests",
        Request,
        ("reference",),
        columns_of(
            Request,
            "reference at item position storeroom quantity result issued_item is_planned work_order note",
            required="reference storeroom",
            lookups={"item": ITEM, "position": POSITION, "storeroom": STOREROOM, "issued_item": ISSUED},
        ),
    ),
    Table(
        "supply-orders",
        SupplyOrder,
        ("source", "external_id"),
        (
            *columns_of(
                SupplyOrder,
                "source external_id item storeroom quantity ordered_at promised_on received_quantity received_at "
                "emergency unit_price currency status",
                required="item storeroom",
                lookups={"item": ITEM, "storeroom": STOREROOM},
            ),
            Column("updated_at", "source_updated_at", cells.moment),
        ),
    ),
)
KEEPING = (
    Table(
        "stock-policies",
        StockPolicy,
        ("item", "storeroom"),
        columns_of(
            StockPolicy,
            "item storeroom stocked reorder_point order_up_to reason review_on",
            required="item storeroom",
            parsers={
                "reorder_point": cells.Whole(-1, MOST_KEPT),
                "order_up_to": cells.Whole(0, MOST_KEPT),
            },
            lookups={"item": ITEM, "storeroom": STOREROOM},
        ),
    ),
    Table(
        "service-targets",
        ServiceTarget,
        ("importance",),
        columns_of(ServiceTarget, "importance kind value tolerable_wait_hours note"),
    ),
)

TABLES = {table.kind: table for table in (*PLACES, *DRIVES, ITEMS, *HISTORY, *DEMAND, *KEEPING)}
MESSAGE_KINDS = ("work-orders", "parts-used", "meter-readings")
"""Messages of the work-order feed, which may wait for what they name."""
KINDS = (*TABLES, *MESSAGE_KINDS)
"""Every kind, in the order in which files that refer to each other are loaded."""
