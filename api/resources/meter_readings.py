"""Meter readings: running hours as a meter showed them, with replacement of the meter."""

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from api.resources.feeding import message_result, process_message
from api.resources.work_orders import MessageResultSerializer, TakenSerializer
from api.wire.records.meter_readings import METER_READINGS
from api.wire.serializers import serializer_of
from api.wire.views import SourceKeyViewSet
from api.wire.work_order_bodies import MeterReadingBody

MeterReadingSerializer = serializer_of(METER_READINGS)


class UpsertedReadingSerializer(MeterReadingSerializer, TakenSerializer):  # type: ignore[misc, valid-type]
    """The reading after the message, and the result of the message."""


class MeterReadingViewSet(SourceKeyViewSet):
    """Running hours of meters. `is_reset` marks a new meter; without it, hours that run backwards are refused."""

    record = METER_READINGS

    @extend_schema(
        request=MeterReadingBody,
        responses={
            200: UpsertedReadingSerializer,
            201: UpsertedReadingSerializer,
            202: MessageResultSerializer,
        },
    )
    def upsert(self, request: Request, source: str, external_id: str) -> HttpResponseBase:
        """Take the reading in; an older message changes nothing, one for a place not known waits (202)."""
        taken = process_message("meter_reading", source, external_id, request.data)
        if taken.record is None or taken.waits_for_records:
            return Response(message_result(taken), status=status.HTTP_202_ACCEPTED)
        return self.upserted(taken.record, created=taken.created, **message_result(taken))
