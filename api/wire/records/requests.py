"""Requests for parts: demand is what was requested, not what was issued."""

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.edge.filtering import TruthFilter
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from drives.models import Request

COLUMNS = "reference at item position storeroom quantity result issued_item is_planned work_order note"
REQUESTS = declare(
    WireRecord(
        Request,
        path="requests",
        text="One requested line. A retracted one can still be read, but no longer counts as demand.",
        is_read_only=True,
        key="reference",
        log_key="pk",
        scope=in_storeroom("storeroom"),
        fields=f"id {COLUMNS} retracted_at created_at updated_at",
        or_null="reference work_order",
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters=(
                "reference item position drive=position__drive__tag storeroom result issued_item is_planned work_order"
            ),
            more={"retracted": TruthFilter("retracted_at", lookup_expr="isnull", exclude=True)},
            quantities="quantity",
            moments="at retracted_at",
            search="reference item__stock_number position__tag work_order note",
            sortable="id at quantity retracted_at",
            ordering="-at -id",
        ),
        file=FileForm(order=165, columns=COLUMNS, required="reference"),
    )
)
