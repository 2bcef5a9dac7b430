"""Rules for substitutes: what replaces what at a place, and what never may serve there."""

from django.db.models import Q

from api.edge.declarations import Scope
from api.edge.filtering import TruthFilter
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from drives.models import SubstitutionRule
from inventory.models.access_scope import AccessScope

GIVEN = "kind item instead_of position drive plant reason given_by valid_from valid_until"


def of_plants(scope: AccessScope) -> Q:
    """Those of its plants, and those that hold everywhere."""
    return Q() if scope.plants is None else Q(plant__isnull=True) | Q(plant__in=scope.plants)


SUBSTITUTION_RULES = declare(
    WireRecord(
        SubstitutionRule,
        path="substitution-rules",
        text=(
            "`replaces`: `item` may serve in place of `instead_of`; `never`: `item` must not serve. At a position, a drive or a plant; "
            "without any of them everywhere. It settles what is for review, and nothing else: never a refusal, never on a lifting drive."
        ),
        is_read_only=True,
        log_key="item pk",
        scope=Scope(rule=of_plants),
        fields=(
            f"id {GIVEN} recorded_by=recorded_by_name withdrawn_at withdrawn_by=withdrawn_by_name withdrawal_reason created_at"
        ),
        or_null="withdrawal_reason",
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="kind item instead_of position drive plant given_by",
            more={
                "withdrawn": TruthFilter("withdrawn_at", lookup_expr="isnull", exclude=True),
            },
            days="valid_from valid_until",
            moments="withdrawn_at",
            search="item__stock_number instead_of__stock_number position__tag drive__tag",
            sortable="id valid_from valid_until",
            ordering="-id",
        ),
    )
)
