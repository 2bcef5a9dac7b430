"""Installations: what sat where, from when to when, and how it ended."""

from collections.abc import Collection, Mapping
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.auth import caller_name
from api.edge.change_log import logging_changes
from api.edge.concurrency import EtagCreateMixin
from api.edge.filtering import IdsFilter, Listing, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import (
    NumberField,
    StrictCharField,
    StrictChoiceField,
    StrictDateField,
    UtcDateTimeField,
)
from api.models import Role
from api.wire.fields import OptionalTextField, WordField
from api.wire.records.installations import APPROVALS, INSTALLATIONS
from api.wire.references import IdField, reference_to
from api.wire.serializers import BodySerializer, MemberErrors, serializer_of
from api.wire.views import ReadRecordViewSet, filterset_of, post_action
from drives.models import AgeBasis, Approval, EndedBy, Installation, Mechanism, Position
from drives.service_record import history
from drives.substitutes import approvals
from inventory.models import Item, Specification, StockEntry

InstallationSerializer = serializer_of(INSTALLATIONS)
ApprovalSerializer = serializer_of(APPROVALS)

MOST_DIFFERENCES = 50


class InstallSerializer(BodySerializer):
    """What was fitted where: an item, or a specification where no item is known."""

    position = reference_to(Position)
    item = reference_to(Item, optional=True)
    specification = IdField(queryset=Specification.objects.all(), required=False, allow_null=True)
    movement = IdField(
        source="stock_entry",
        queryset=StockEntry.objects.select_related("item"),
        required=False,
        allow_null=True,
    )
    installed_at = UtcDateTimeField()
    installed_why = OptionalTextField(max_length=200)
    temporary_until = StrictDateField(required=False, allow_null=True)
    approved_by = OptionalTextField(max_length=80)
    approval_reference = OptionalTextField(max_length=80)
    inspect_by = StrictDateField(required=False, allow_null=True)
    differences = serializers.ListField(
        child=StrictCharField(max_length=200), required=False, max_length=MOST_DIFFERENCES
    )
    note = OptionalTextField()

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        nothing = values.get("item") is None and values.get("specification") is None
        if nothing and not {"item", "specification"} & set(faults):
            return {"item": ["Say what was fitted: give an item or a specification."]}
        return {}


class RemoveSerializer(BodySerializer):
    """When the unit came off, and how its life ended."""

    removed_at = UtcDateTimeField()
    ended_by = StrictChoiceField(choices=EndedBy.choices)
    mechanism = WordField(Mechanism.choices)
    cause = OptionalTextField(max_length=60)
    part = OptionalTextField(max_length=40)
    running_hours = NumberField(max_digits=10, decimal_places=1, min_value=0, required=False, allow_null=True)
    age_basis = WordField(AgeBasis.choices)
    work_order = OptionalTextField(max_length=60)
    note = OptionalTextField()


class ApprovalRequestSerializer(BodySerializer):
    """A time longer than allowed before needs another approval: none is changed."""

    approved_by = StrictCharField(max_length=80)
    until_on = StrictDateField()
    reference = OptionalTextField(max_length=80)
    inspect_by = StrictDateField(required=False, allow_null=True)


TEMPORARY = ("true", "false", "expiring", "overdue")


class InstallationFilter(filterset_of(INSTALLATIONS)):  # type: ignore[misc]
    specification = IdsFilter(help_text="Comma list of ids.")
    temporary = WordsFilter(
        method="filter_temporary",
        choices=TEMPORARY,
        help_text="overdue and expiring (within three days) are still fitted.",
    )

    def filter_temporary(self, queryset: QuerySet[Any], name: str, words: list[str]) -> QuerySet[Any]:
        return queryset.filter(approvals.in_temporary_states(words, timezone.now()))


class InstallationViewSet(EtagCreateMixin, ReadRecordViewSet):
    """The history of the positions. A life is begun here and ended by `remove/`, and stays as recorded."""

    record = INSTALLATIONS
    queryset: QuerySet[Any] = Installation.objects.with_parts()
    write_serializer_class = InstallSerializer
    filterset_class = InstallationFilter
    action_roles: ClassVar[Mapping[str, Collection[str] | None]] = {"approve": (Role.MANAGER,)}
    listings: ClassVar[Mapping[str, Listing]] = {"approvals": Listing(None, ["id"], "-id")}

    def perform_create(self, serializer: Any) -> Installation:
        values = dict(serializer.validated_data)
        return history.install(values.pop("position"), **values)

    @post_action(RemoveSerializer, InstallationSerializer)
    def remove(self, unit: Installation, values: dict[str, Any]) -> None:
        """Record that the unit came off."""
        with logging_changes(Installation.objects.filter(pk=unit.pk)):
            history.remove(unit, **values)

    @extend_schema(responses=ApprovalSerializer(many=True))
    @action(detail=True)
    def approvals(self, request: Request, pk: str) -> Response:
        """Every approval of this unit, the one in force first."""
        return self.list_of(Approval.objects.filter(installation=self.get_object()), ApprovalSerializer)

    @extend_schema(request=ApprovalRequestSerializer, responses={201: ApprovalSerializer})
    @approvals.mapping.post
    @idempotent()
    def approve(self, request: Request, pk: str) -> HttpResponseBase:
        """Let the unit run until a day. What differs from the requirement is kept as it is known now."""
        said = self.read(ApprovalRequestSerializer, request)
        values = {name: value for name, value in said.items() if value is not None}
        approval = approvals.approve(self.get_object(), **values, by=caller_name(request))
        return Response(ApprovalSerializer(approval).data, status=status.HTTP_201_CREATED)
