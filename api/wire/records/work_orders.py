"""Work orders, meter readings and messages, as the plant's work-order system sends them."""

from django.db.models import Q

from api.edge.declarations import EVERY_ROW, EVERYBODY, NOBODY, Scope, in_plant
from api.wire.declaration import WireRecord, declare
from drives.models import CodeWord, InboundMessage, MeterReading, WorkOrder
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
        WorkOrder, path="work-orders", key="source external_id", scope=Scope(plant=PLANT, rule=of_plants)
    )
)
METER_READINGS = declare(
    WireRecord(MeterReading, path="meter-readings", log_key="position pk", scope=in_plant(PLANT))
)
MESSAGES = declare(WireRecord(InboundMessage, path="inbound-messages", scope=NOBODY, is_logged=False))
CODE_WORDS = declare(WireRecord(CodeWord, path="code-words", scope=EVERYBODY))
