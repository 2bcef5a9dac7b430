"""Requests for parts."""

from api.edge.declarations import in_storeroom
from api.wire.declaration import FileForm, WireRecord, declare
from drives.models import Request

REQUESTS = declare(
    WireRecord(
        Request,
        path="requests",
        key="reference",
        log_key="pk",
        scope=in_storeroom("storeroom"),
        file=FileForm(
            order=165,
            columns="reference at item position storeroom quantity result issued_item is_planned work_order note",
            required="reference",
        ),
    )
)
