"""Deliveries that were checked against their supply order."""

from rest_framework import serializers

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import DeliveryCheck

DELIVERY_CHECKS = declare(
    WireRecord(
        DeliveryCheck,
        path="delivery-checks",
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
    )
)
