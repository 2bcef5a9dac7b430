"""Fit questions: parts that came back because they did not fit, and the measurement that settles why."""

from typing import Any

from api.edge.auth import caller_name
from api.edge.parsing import StrictCharField
from api.wire.records.fit_questions import FIT_QUESTIONS
from api.wire.serializers import BodySerializer, serializer_of
from api.wire.views import ReadRecordViewSet, post_action
from drives.substitutes import fit_questions
from inventory.models import FitQuestion

FitQuestionSerializer = serializer_of(FIT_QUESTIONS)


class AnswerSerializer(BodySerializer):
    """What was measured, and what it means for the record."""

    answer = StrictCharField(max_length=300)


class FitQuestionViewSet(ReadRecordViewSet):
    """Opened by a return that did not fit; closed by a measurement."""

    record = FIT_QUESTIONS

    @post_action(AnswerSerializer, FitQuestionSerializer)
    def answer(self, question: FitQuestion, values: dict[str, Any]) -> None:
        """Say what was measured, once."""
        fit_questions.answer(question, values["answer"], by=caller_name(self.request))
