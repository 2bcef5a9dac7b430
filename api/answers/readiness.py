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
from drives.substitutes.job_promises import StockSource
from drives.substitutes.job_readiness import JobLine, JobReadiness, readiness


class StockSourceSerializer(CoreAnswerSerializer):
    of = StockSource
    members = "storeroom quantity minutes piece_links"
    texts = {
        "minutes": "To the storeroom that serves the job's plant; 0 from there.",
        "piece_links": "Of chain: the length of the piece that it is cut from.",
    }


class JobLineSerializer(CoreAnswerSerializer):
    of = JobLine
    members = (
        "item quantity state issued reserved available missing due_on order_by is_late sources in_the_way substitutes "
        "code=reason.code"
    )
    texts = {
        "issued": "Already issued to this job.",
        "reserved": "Reserved for this job.",
        "available": "Free and promised to this job by its date, in any storeroom whose transfer time is known.",
        "missing": "Of chain: the links of every line that cannot be cut from one piece, or with the joints allowed.",
        "due_on": "When open orders have brought what is missing.",
        "order_by": "needed_by less the staging days, less the lead time that 19 of 20 deliveries keep; null: not known.",
        "is_late": "That date has passed.",
        "sources": "Where what is available lies; of chain one for each cut, reserved chain included.",
        "in_the_way": "Where something is missing: reservations of other work and jobs with an earlier date.",
        "substitutes": "Stock numbers of the same kind of part that no job needs, best first.",
    }
    values = FactValuesField(source="reason")
    explanation = SentenceField(source="reason")


class ReadinessSerializer(CoreAnswerSerializer):
    of = JobReadiness
    members = "source external_id needed_by is_ready order_by staging_days lines"
    texts = {
        "is_ready": "Every line is ready, or there and only to be brought (transfer).",
        "order_by": "The earliest of the lines with missing parts.",
        "staging_days": "Days before the job on which its parts are to be there; see stocking/terms/.",
    }
    source = serializers.CharField()  # type: ignore[assignment]
    external_id = serializers.CharField()


class ReadinessView(StrictAPIView):
    """The parts that a work order needs, against what is reserved, available, on order or could serve instead.

    Every free piece is promised to one open job, by needed_by; a job without a date comes last.
    """

    @extend_schema(responses=ReadinessSerializer)
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
                    "staging_days": found.staging_days,
                    "lines": found.lines,
                }
            ).data
        )
