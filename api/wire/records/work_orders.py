"""Work orders, as the plant's work-order system sends them."""

from django.db.models import Q

from api.edge.declarations import EVERY_ROW, Scope
from api.wire.declaration import ListForm, WireRecord, declare
from drives.models import WorkOrder
from inventory.models.access_scope import AccessScope

PLANT = "position__drive__equipment__area__plant"


def of_plants(scope: AccessScope) -> Q:
    """By position, by equipment where no position is named, and what is nowhere yet."""
    if scope.plants is None:
        return EVERY_ROW
    at_equipment = Q(position__isnull=True, equipment__area__plant__in=scope.plants)
    nowhere_yet = Q(position__isnull=True, equipment__isnull=True)
    return Q(**{f"{PLANT}__in": scope.plants}) | at_equipment | nowhere_yet


WORK_ORDERS = declare(
    WireRecord(
        WorkOrder,
        path="work-orders",
        key="source external_id",
        scope=Scope(plant=PLANT, rule=of_plants),
        related="position equipment",
        listed=ListForm(
            filters=(
                "source external_id status kind urgency position drive=position__drive__tag equipment mechanism has_failure"
            ),
            moments="opened_at closed_at removed_at updated_at=source_updated_at",
            days="needed_by",
            search="external_id title position__tag failure_note",
            sortable="id opened_at closed_at needed_by updated_at=source_updated_at",
            ordering="-source_updated_at -id",
        ),
    )
)
