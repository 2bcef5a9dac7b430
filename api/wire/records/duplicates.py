"""Duplicates and merges: one part under several numbers, and numbers that go on under another."""

from django.db.models import Exists, OuterRef, Q

from api.edge.declarations import Scope
from api.edge.filtering import Range
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import DuplicateGroup, DuplicateShelf, Merge, MergeLine
from inventory.models.access_scope import AccessScope


def whole_groups(scope: AccessScope) -> Q:
    """With every storeroom that keeps or needs one of their numbers: what part of a group costs is not what it costs."""
    if scope.storerooms is None:
        return Q()
    hidden = DuplicateShelf.objects.filter(group=OuterRef("pk")).exclude(storeroom__in=scope.storerooms)
    return Q(~Exists(hidden))


def whole_merges(scope: AccessScope) -> Q:
    if scope.storerooms is None:
        return Q()
    lines = MergeLine.objects.filter(merge=OuterRef("pk"), storeroom__isnull=False)
    return Q(~Exists(lines.exclude(storeroom__in=scope.storerooms)))


DUPLICATES = declare(
    WireRecord(
        DuplicateGroup,
        path="duplicates",
        text=(
            "One part under several numbers. `yearly_cost` is the holding cost of the pieces beyond one common stock, of those on "
            "hand or those kept apart, whichever are more; `excess_value` is the value of those on hand."
        ),
        is_read_only=True,
        is_logged=False,
        scope=Scope(rule=whole_groups),
        fields=(
            "id likeness items yearly_cost excess_value currency pieces_apart pieces_together shelves differences found_at"
        ),
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="likeness currency",
            numbers={"pieces_apart": Range(0, 10**9, whole=True), "excess_value": Range(0, 10**12)},
            sortable="worth id",
            ordering="-worth",
        ),
    )
)

MERGES = declare(
    WireRecord(
        Merge,
        path="merges",
        text="One number that goes on under another, with every step; it can be undone.",
        is_read_only=True,
        log_key="item pk",
        scope=Scope(rule=whole_merges),
        fields=(
            "id item into state reason doubts approved_by approval_reason merged_at merged_by=merged_by_name undone_at "
            "undone_by=undone_by_name undo_reason left_with lines"
        ),
        or_null="approved_by approval_reason undo_reason",
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="item into state",
            moments="merged_at undone_at",
            search="item__stock_number into__stock_number",
            sortable="id merged_at",
            ordering="-id",
        ),
    )
)
