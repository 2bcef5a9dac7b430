"""Fit questions: parts that came back because they did not fit, and the measurement that settles why."""

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField
from api.wire.records.fit_questions import FIT_QUESTIONS
from api.wire.serializers import BodySerializer, ReadSerializer
from api.wire.views import ReadRecordViewSet
from drives.substitutes import fit_questions


class FitQuestionSerializer(ReadSerializer):
    """What the records said of the part at that place, and what has to be measured. `movement` is its return."""

    record = FIT_QUESTIONS


class AnswerSerializer(BodySerializer):
    """What was measured, and what it means for the record."""

    answer = StrictCharField(max_length=300)


class FitQuestionViewSet(ReadRecordViewSet):
    """Opened by a return that did not fit; closed by a measurement."""

    record = FIT_QUESTIONS

    @extend_schema(request=AnswerSerializer, responses=FitQuestionSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def answer(self, request: Request, pk: str) -> HttpResponseBase:
        """Say what was measured, once."""
        said = self.read(AnswerSerializer, request)
        question = self.get_object()
        fit_questions.answer(question, said["answer"], by=caller_name(request))
        return self.respond(question)
