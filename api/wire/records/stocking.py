"""What stock is worked out with, the runs that do it, and what they recommend."""

from api.edge.declarations import EVERYBODY, in_storeroom
from api.wire.declaration import WireRecord, declare
from inventory.models import Recommendation, StockingRun, StockingTerms

TERMS = declare(
    WireRecord(
        StockingTerms,
        path="stocking/terms",
        scope=EVERYBODY,
        fields=(
            "holding_rate_per_year order_cost currency hours_to_expedite planning_days worst_grade are_set updated_at"
        ),
    )
)
RUNS = declare(WireRecord(StockingRun, path="stocking/runs", scope=EVERYBODY, is_logged=False))
RECOMMENDATIONS = declare(
    WireRecord(Recommendation, path="recommendations", scope=in_storeroom("storeroom"), is_logged=False)
)
