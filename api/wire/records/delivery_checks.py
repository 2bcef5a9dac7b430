"""Deliveries that were checked against their supply order."""

from decimal import Decimal

from rest_framework import serializers

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.wire import cells
from api.wire.declaration import Column, FileForm, ListForm, Lookup, WireRecord, declare
from inventory.identification.receiving import OWN_SIZES_MM, SEPARATING
from inventory.models import DeliveryCheck, SupplyOrder
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS
from inventory.stores.deliveries import LONGEST_REASON

SIZES = " ".join((*SEPARATING, *OWN_SIZES_MM))
LENGTH = cells.LengthMm(6, Decimal(1), Decimal(10_000))
ORDER = Lookup(SupplyOrder, ("source", "external_id"), ("source", "external_id"), "supply order")

DELIVERY_CHECKS = declare(
    WireRecord(
        DeliveryCheck,
        path="delivery-checks",
        key="reference",
        text=(
            "One delivery for an order line. `held` pieces lie on hold, `received` ones count for the order, `sent_back` ones have "
            "left the books. `movements` are the lines of the ledger that it caused."
        ),
        is_read_only=True,
        log_key="item storeroom pk",
        scope=in_storeroom("storeroom"),
        fields=(
            "id source=order.source external_id=order.external_id supplier=order.supplier item storeroom reference quantity held "
            "received sent_back outcome ordered delivered wrong could_be reasons checked_at checked_by=checked_by_name settled_at "
            "settled_by=settled_by_name settled_reason movements created_at updated_at"
        ),
        or_null="reference wrong settled_reason",
        members={
            name: serializers.IntegerField(source=f"{name}_quantity", read_only=True)
            for name in ("held", "received", "sent_back")
        },
        related="order item storeroom",
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters=(
                "source=order__source external_id=order__external_id supplier=order__supplier item storeroom reference outcome"
            ),
            quantities="quantity held=held_quantity received=received_quantity sent_back=sent_back_quantity",
            moments="checked_at settled_at",
            search="reference wrong order__external_id order__supplier item__stock_number",
            sortable="id checked_at quantity settled_at",
            ordering="-checked_at -id",
        ),
        file=FileForm(
            order=175,
            columns=f"reference source external_id quantity checked_at teeth strands {SIZES} wrong",
            required="reference",
            given={
                "source": Column("source", "", cells.Code(40), required=True),
                "external_id": Column("external_id", "order", cells.Code(60), required=True, lookup=ORDER),
                "teeth": Column("teeth", "teeth", cells.Whole(*COUNTED_TEETH)),
                "strands": Column("strands", "strands", cells.Whole(*STRANDS)),
                "wrong": Column("wrong", "wrong", cells.Text(LONGEST_REASON), blank=""),
                **{name: Column(name, name, LENGTH) for name in SIZES.split()},
            },
        ),
    )
)
