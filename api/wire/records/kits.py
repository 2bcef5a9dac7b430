"""Kits: the parts of one job, held back together."""

from api.edge.declarations import in_storeroom
from api.edge.record_views import STOCK_ROLES
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import Kit

KITS = declare(
    WireRecord(
        Kit,
        path="kits",
        log_key="work_order pk",
        scope=in_storeroom("storeroom"),
        fields=(
            "id work_order storeroom needed_by place staged_at state made_by=made_by_name lines created_at updated_at"
        ),
        or_null="place",
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters="work_order storeroom state",
            moments="created_at staged_at",
            days="needed_by",
            search="work_order place made_by_name",
            sortable="id created_at work_order",
            ordering="-id",
        ),
    )
)
