"""Stock policies: what is in force for an item in a storeroom, as a person set it."""

from typing import Any

from api.edge.auth import caller_name
from api.wire.records.stock_policies import STOCK_POLICIES
from api.wire.views import RecordViewSet
from inventory.models import StockPolicy


class StockPolicyViewSet(RecordViewSet):
    """Policies in force; a run only recommends and never writes here."""

    record = STOCK_POLICIES

    def perform_create(self, serializer: Any) -> StockPolicy:
        policy: StockPolicy = serializer.save(set_by_name=caller_name(self.request))
        return policy

    def perform_update(self, serializer: Any) -> Any:
        return serializer.save(set_by_name=caller_name(self.request))
