"""What stock is worked out with, and the runs that do it."""

from api.edge.declarations import EVERYBODY
from api.wire.declaration import WireRecord, declare
from inventory.models import StockingRun, StockingTerms

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
