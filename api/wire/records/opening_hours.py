"""Opening hours of storerooms and machine shops."""

from django.db.models import Q

from api.edge.declarations import Scope
from api.edge.filtering import Range
from api.edge.parsing import StrictIntegerField
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import OpeningHours
from inventory.models.access_scope import AccessScope


def of_shops_and_storerooms(scope: AccessScope) -> Q:
    """Machine shops belong to everybody."""
    return Q(storeroom__isnull=True) | Q(storeroom__in=scope.storerooms or ())


OPENING_HOURS = declare(
    WireRecord(
        OpeningHours,
        path="opening-hours",
        text=(
            "A stretch of a weekday (0 is Monday) on the clock of the place; it closes at 00:00 at the end of the day."
        ),
        list_text="When somebody is there.",
        key="storeroom machine_shop weekday opens",
        log_key="pk",
        scope=Scope(storerooms=("storeroom",), rule=of_shops_and_storerooms),
        fields="id storeroom machine_shop weekday opens closes",
        members={"weekday": StrictIntegerField(min_value=0, max_value=6)},
        listed=ListForm(
            filters="storeroom machine_shop",
            numbers={"weekday": Range(0, 6, whole=True)},
            sortable="id weekday opens closes",
            ordering="weekday opens",
        ),
        file=FileForm(order=40),
    )
)
