"""Kits: the parts of one job, held back together."""

from typing import Any

from django.db.models import Prefetch, QuerySet
from rest_framework.request import Request

from api.edge.concurrency import EtagCreateMixin
from api.edge.errors import field_refusal
from api.edge.parsing import StrictCharField, StrictDateField
from api.resources.booking import LineSerializer, caller_of
from api.resources.remedies import OF_THE_STATE, conflict
from api.resources.reservations import ReservationSerializer
from api.wire.fields import OptionalTextField
from api.wire.records.kits import KITS
from api.wire.references import reference_to
from api.wire.serializers import BodySerializer, EmptyBodySerializer, ReadSerializer
from api.wire.views import ReadRecordViewSet, post_action
from inventory.models import Kit, Reservation, Storeroom
from inventory.stores import kits
from inventory.stores.ledger import LineRefused, ReservationLine

MOST_LINES = 200


class KitSerializer(ReadSerializer):
    """A kit and its lines; a `short_quantity` was taken for urgent work."""

    record = KITS
    lines = ReservationSerializer(many=True, read_only=True)


class KitLineSerializer(LineSerializer):
    pass


class KitRequestSerializer(BodySerializer):
    """The parts of a job: every line is held back, or none."""

    work_order = StrictCharField(max_length=60)
    storeroom = reference_to(Storeroom)
    lines = KitLineSerializer(many=True, allow_empty=False, max_length=MOST_LINES)  # type: ignore[call-arg]
    needed_by = StrictDateField(required=False, allow_null=True)
    place = OptionalTextField(max_length=60)


class StageSerializer(BodySerializer):
    """Where the parts stand together."""

    place = OptionalTextField(max_length=60)


def line_refused(request: Request, refused: LineRefused) -> Exception:
    """A shelf that holds too little is a conflict that names the line, anything else a bad member of it."""
    if not isinstance(refused.refusal, OF_THE_STATE):
        return field_refusal(refused, "lines", refused.line, refused.field)
    answer = conflict(request, refused.refusal, None)
    answer.extra["line"] = refused.line
    return answer


class KitViewSet(EtagCreateMixin, ReadRecordViewSet):
    """The parts of a job, held back together; its issues use them up."""

    record = KITS
    queryset: QuerySet[Any] = Kit.objects.select_related("storeroom").prefetch_related(
        Prefetch("lines", Reservation.objects.with_places().order_by("pk"))
    )
    write_serializer_class = KitRequestSerializer
    requires_idempotency_key = True

    def perform_create(self, serializer: Any) -> Kit:
        values = dict(serializer.validated_data)
        lines = [ReservationLine(**line) for line in values.pop("lines")]
        values["place"] = values.get("place") or ""
        order, room = values.pop("work_order"), values.pop("storeroom")
        try:
            return kits.make(order, room, lines, by=caller_of(self.request), **values)
        except LineRefused as refused:
            raise line_refused(self.request, refused) from refused

    @post_action(StageSerializer, KitSerializer, needs_key=True)
    def stage(self, kit: Kit, values: dict[str, Any]) -> None:
        """The parts stand together, and where."""
        kits.stage(kit, place=values.get("place") or "")

    @post_action(EmptyBodySerializer, KitSerializer, needs_key=True)
    def release(self, kit: Kit, values: dict[str, Any]) -> None:
        """Put back what was not used: it is free again."""
        kits.release(kit)
