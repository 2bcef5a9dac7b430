"""Minutes of shop work, as this plant has recorded them."""

from rest_framework import serializers

from api.edge.declarations import EVERYBODY
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from api.wire.serializers import RecordSerializer
from inventory.interchange.thresholds import SHIPPED_MINUTES
from inventory.interchange.vocabulary import Operation
from inventory.models import ShopTime

SHOP_TIMES = declare(
    WireRecord(
        ShopTime,
        path="shop-times",
        list_text="How long the work on a part takes.",
        key="operation",
        scope=EVERYBODY,
        fields="id operation minutes basis note shipped_minutes created_at updated_at",
        listed=ListForm(
            filters="operation basis",
            minutes="minutes",
            sortable="operation minutes",
            ordering="operation",
        ),
        file=FileForm(order=60),
    )
)


class ShopTimeSerializer(RecordSerializer):
    """Minutes of one operation here; `shipped_minutes` is the estimate that it stands in for."""

    record = SHOP_TIMES
    shipped_minutes = serializers.SerializerMethodField()

    def get_shipped_minutes(self, shop_time: ShopTime) -> int | None:
        return SHIPPED_MINUTES.get(Operation(shop_time.operation))
