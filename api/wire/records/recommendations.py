"""Recommendations: what a run would keep of an item in a storeroom."""

from api.edge.declarations import in_storeroom
from api.edge.filtering import Range, TruthFilter, WordsFilter
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import Recommendation, RecommendationState
from inventory.models.stocking import MOST_KEPT

MODELS = ("gamma_poisson", "weibull_renewal", "intermittent", "none")
RECOMMENDATIONS = declare(
    WireRecord(
        Recommendation,
        path="recommendations",
        scope=in_storeroom("storeroom"),
        is_logged=False,
        fields=(
            "id item description=item.description storeroom state changed is_answered importance stocked reorder_point "
            "order_up_to model target_kind target_value rate_per_year planned_per_year lead_time_days lead_time_sd_days "
            "expected_lead_time_demand fill_rate expected_stockouts_per_year holding_cost_per_year currency today "
            "reasons since_last review_on run decided_by=decided_by_name decided_at decision_reason created_at "
            "updated_at"
        ),
        related="item__specification storeroom run",
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="item storeroom stocked importance",
            more={
                "state": WordsFilter(
                    choices=RecommendationState.values,
                    help_text="Without it, all but what a newer one replaced.",
                ),
                "changed": TruthFilter(help_text="Whether it differs from the policy in force."),
                "is_answered": TruthFilter(help_text="false: something has to be entered first."),
                "model": WordsFilter(choices=MODELS),
            },
            numbers={
                "reorder_point": Range(-1, MOST_KEPT, whole=True),
                "order_up_to": Range(0, MOST_KEPT, whole=True),
                "rate_per_year": Range(0, 1e6),
                "lead_time_days": Range(0, 3650),
                "expected_stockouts_per_year": Range(0, 1e6),
                "run": Range(1, 2**31 - 1, whole=True),
            },
            moments="created_at decided_at",
            search="item__stock_number item__description",
            sortable=(
                "id rate_per_year expected_stockouts_per_year holding_cost_per_year created_at decided_at item storeroom"
            ),
            ordering="storeroom__code item__stock_number -id",
        ),
    )
)
