"""Messages of the work-order system, as they came."""

from api.edge.declarations import NOBODY
from api.edge.filtering import Range, WordsFilter
from api.wire.declaration import ListForm, WireRecord, declare
from drives.models import InboundMessage

KINDS = ("work_order", "parts_used", "meter_reading", "record")
INBOUND_MESSAGES = declare(
    WireRecord(
        InboundMessage,
        path="inbound-messages",
        scope=NOBODY,
        is_logged=False,
        fields=(
            "id kind source external_id version_at body sent outcome reasons received_at tries tried_at settled_at "
            "settled_by_name settled_reason"
        ),
        listed=ListForm(
            filters="source external_id outcome",
            more={"kind": WordsFilter(choices=KINDS)},
            numbers={"tries": Range(0, 2**31 - 1, whole=True)},
            moments="received_at version_at settled_at",
            search="external_id",
            sortable="id version_at received_at",
            ordering="-id",
        ),
    )
)
