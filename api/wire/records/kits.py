"""Kits: the parts of one job, held back together."""

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.edge.filtering import ConditionFilter
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import Kit, Reservation
from inventory.stores.kits import OLD_AFTER_DAYS, old_before


def is_old() -> Q:
    return Q(pk__in=Kit.objects.older_than(old_before(timezone.now())).values("pk"))


def is_short() -> Exists:
    return Exists(Reservation.objects.filter(kit=OuterRef("pk"), short_quantity__gt=0))


KITS = declare(
    WireRecord(
        Kit,
        path="kits",
        log_key="work_order pk",
        scope=in_storeroom("storeroom"),
        fields=(
            "id work_order storeroom needed_by place staged_at state made_by=made_by_name lines created_at updated_at"
        ),
        or_null="place",
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters="work_order storeroom state",
            more={
                "old": ConditionFilter(
                    is_old, help_text=f"Still holds parts back after {OLD_AFTER_DAYS} days."
                ),
                "short": ConditionFilter(is_short, help_text="Something was taken from it for urgent work."),
            },
            moments="created_at staged_at",
            days="needed_by",
            search="work_order place made_by_name",
            sortable="id created_at work_order",
            ordering="-id",
        ),
    )
)
