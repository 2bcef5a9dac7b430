"""Will the parts of a job be there? Line by line, with the date by which the missing have to be ordered."""

from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactValuesField, SentenceField
from drives.models import WorkOrder
from drives.substitutes.job_readiness import JobLine, JobReadiness, readiness


class JobLineSerializer(CoreAnswerSerializer):
    of = JobLine
    members = "item quantity state issued reserved available missing due_on order_by is_late substitutes code=reason.code"
    texts = {
        "issued": "Already issued to this job.",
        "reserved": "Reserved for this job.",
        "available": "Available in the plant's storeroom besides.",
        "due_on": "When open orders have brought what is missing.",
        "order_by": "needed_by less a day for staging, less the lead time that 19 of 20 deliveries keep; null: not known.",
        "is_late": "That date has passed.",
        "substitutes": "Stock numbers, best first.",
    }
    values = FactValuesField(source="reason")
    explanation = SentenceField(source="reason")


class ReadinessSerializer(CoreAnswerSerializer):
    of = JobReadiness
    members = "source external_id needed_by is_ready order_by lines"
    texts = {"order_by": "The earliest of the lines with missing parts."}
    source = serializers.CharField()  # type: ignore[assignment]
    external_id = serializers.CharField()


class ReadinessView(StrictAPIView):
    """The parts that a work order needs, against what is reserved, available, on order or could serve instead."""

    @extend_schema(responses=ReadinessSerializer, operation_id="work_orders_readiness")
    def get(self, request: Request, source: str, external_id: str) -> Response:
        places = "position__drive__equipment__area__plant__storeroom"
        orders = WorkOrder.objects.select_related(places, "equipment__area__plant__storeroom")
        work_order = visible_to_caller(orders).filter(source=source, external_id=external_id).first()
        if work_order is None:
            raise Http404
        found = readiness(work_order, at=timezone.now())
        return Response(
            ReadinessSerializer(
                {
                    "source": source,
                    "external_id": external_id,
                    "needed_by": found.needed_by,
                    "is_ready": found.is_ready,
                    "order_by": found.order_by,
                    "lines": found.lines,
                }
            ).data
        )
