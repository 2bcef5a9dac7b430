"""What a change of a position or a drive touches, such as other teeth: the unit there, and the parts that could serve."""

from collections.abc import Iterator

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from api.screens.admin_changes import ShowsWhatChanges, Touched, named
from drives.models import Cover, Drive, Installation, Position, WorkOrder, WorkOrderStatus

NOT_WATCHED = frozenset(
    {"name", "note", "criticality", "downtime_cost_per_hour", "currency", "fitting_minutes"}
)


def touched_at(positions: QuerySet[Position]) -> Iterator[Touched]:
    fitted = Installation.objects.still_fitted().filter(position__in=positions, item__isnull=False)
    numbers = fitted.order_by("item__stock_number").values_list("item__stock_number", flat=True)
    yield named(_("Items fitted there"), numbers.distinct())
    serving = Cover.objects.filter(position__in=positions).order_by("item__stock_number")
    yield named(
        _("Items that could serve there, judged again"),
        serving.values_list("item__stock_number", flat=True).distinct(),
    )
    jobs = WorkOrder.objects.filter(position__in=positions, status=WorkOrderStatus.OPEN)
    yield named(_("Open work orders"), jobs.order_by("external_id").values_list("external_id", flat=True))


class ShowsWhatPositionTouches(ShowsWhatChanges):
    not_watched = NOT_WATCHED

    def touched(self, record: Position) -> Iterator[Touched]:
        yield from touched_at(Position.objects.filter(pk=record.pk))


class ShowsWhatDriveTouches(ShowsWhatChanges):
    not_watched = NOT_WATCHED

    def touched(self, record: Drive) -> Iterator[Touched]:
        positions = Position.objects.filter(drive=record)
        yield named(_("Positions of this drive"), positions.order_by("tag").values_list("tag", flat=True))
        yield from touched_at(positions)
