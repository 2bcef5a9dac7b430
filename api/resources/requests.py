"""Requests for parts and their results. Demand is what was requested, not what was issued."""

from dataclasses import replace
from typing import Any

from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request as ApiRequest

from api.edge.change_log import log_creation
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictIntegerField, UtcDateTimeField
from api.wire.records.requests import COLUMNS, REQUESTS
from api.wire.serializers import ActSerializer, BodySerializer, MemberErrors, serializer_of
from api.wire.views import ReadRecordViewSet, post_action
from drives.models import Request
from drives.service_record import requests
from inventory.models.fields import GREATEST_QUANTITY

RequestSerializer = serializer_of(REQUESTS)


class NewRequestSerializer(ActSerializer):
    """An item, a position or both. Without `at` the time is now; a `reference` is recorded once."""

    record = replace(REQUESTS, fields=COLUMNS)
    at = UtcDateTimeField(required=False, allow_null=True)
    quantity = StrictIntegerField(min_value=1, max_value=GREATEST_QUANTITY, default=1)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        nothing = values.get("item") is None and values.get("position") is None
        if nothing and not {"item", "position"} & set(faults):
            return {"item": ["Give an item, a position or both."]}
        return {}


class RetractionSerializer(BodySerializer):
    """When it was retracted; without `at` the time is now."""

    at = UtcDateTimeField(required=False, allow_null=True)


class RequestViewSet(ReadRecordViewSet):
    """Requested parts. Recorded once and never changed; retract a mistake with `retract/`."""

    record = REQUESTS
    write_serializer_class = NewRequestSerializer

    @extend_schema(responses={200: RequestSerializer, 201: RequestSerializer})
    @idempotent()
    def create(self, request: ApiRequest) -> HttpResponseBase:
        """Record a request; 200 if its `reference` is already recorded with the same content."""
        serializer = self.get_write_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        values = serializer.validated_data
        recorded = requests.record_request(**values | {"at": values.get("at") or timezone.now()})
        if not recorded.is_known:
            log_creation(recorded.request)
        code = status.HTTP_200_OK if recorded.is_known else status.HTTP_201_CREATED
        response = self.respond(recorded.request, code)
        response["Location"] = request.build_absolute_uri(f"{request.path}{recorded.request.pk}/")
        return response

    @post_action(RetractionSerializer, RequestSerializer)
    def retract(self, request: Request, values: dict[str, Any]) -> None:
        """Retract a request that was a mistake."""
        requests.retract(request, values.get("at") or timezone.now())
