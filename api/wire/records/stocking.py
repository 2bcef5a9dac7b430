"""What stock is worked out with, and the runs that do it."""

from api.edge.declarations import EVERYBODY
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import StockingRun, StockingTerms

TERMS = declare(
    WireRecord(
        StockingTerms,
        path="stocking/terms",
        scope=EVERYBODY,
        fields=(
            "holding_rate_per_year order_cost currency hours_to_expedite planning_days staging_days chain_joints "
            "worst_grade are_set updated_at"
        ),
    )
)
RUNS = declare(
    WireRecord(
        StockingRun,
        path="stocking/runs",
        scope=EVERYBODY,
        is_logged=False,
        fields=(
            "id state waiting as_of followed_until is_behind is_full total done recomputed changed started_at finished_at "
            "started_by=started_by_name failure"
        ),
        write_roles=("manager",),
        listed=ListForm(
            filters="state is_full", moments="started_at as_of", sortable="id started_at", ordering="-id"
        ),
    )
)
