"""Reservations: what is held back on the shelf for a work order."""

from django.db.models import Q
from rest_framework import serializers

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.edge.filtering import ConditionFilter
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import Reservation

RESERVATIONS = declare(
    WireRecord(
        Reservation,
        path="reservations",
        text=(
            "What is held back; `open_quantity` is what the shelf still keeps for the work order.\n\n"
            "`short_quantity` was taken from it for urgent work: it is still needed, and held no longer."
        ),
        is_read_only=True,
        scope=in_storeroom("storeroom"),
        is_logged=False,
        fields=(
            "id item storeroom condition quantity open_quantity work_order state expires_at kit short_quantity taken_by "
            "taken_reason reserved_by=reserved_by_name created_at updated_at"
        ),
        or_null="taken_by taken_reason",
        members={"kit": serializers.IntegerField(source="kit_id", read_only=True, allow_null=True)},
        related="item storeroom",
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters="item storeroom condition work_order state",
            more={
                "short": ConditionFilter(
                    lambda: Q(short_quantity__gt=0), help_text="Something was taken from it."
                ),
            },
            quantities="quantity open_quantity",
            moments="expires_at created_at",
            search="item__stock_number item__description work_order reserved_by_name",
            sortable="id expires_at created_at work_order",
            ordering="-id",
        ),
    )
)
