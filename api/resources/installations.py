"""Installations: what sat where, from when to when, and how it ended."""

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.auth import caller_name, roles_of
from api.edge.change_log import logging_deletion
from api.edge.concurrency import EtagCreateMixin
from api.edge.filtering import IdsFilter, Listing, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField, StrictChoiceField, UtcDateTimeField
from api.models import Role
from api.resources.booking import quote_field
from api.resources.remedies import verdict_refusals
from api.wire.records.installations import APPROVALS, INSTALLATIONS
from api.wire.references import IdField
from api.wire.serializers import ActSerializer, BodySerializer, MemberErrors, serializer_of
from api.wire.views import ReadRecordViewSet, filterset_of, post_action
from drives.models import Approval, EndedBy, Installation
from drives.service_record import history
from drives.substitutes import approvals
from drives.substitutes.fitting import fit
from inventory.facts import fact
from inventory.models import Specification, StockEntry

InstallationSerializer = serializer_of(INSTALLATIONS)
ApprovalSerializer = serializer_of(APPROVALS)

MOST_DIFFERENCES = 50
MANAGERS_MEMBERS = ("approved_by", "approval_reference")
APPROVING_ROLES = (Role.MANAGER, Role.INTEGRATION)


class InstallSerializer(ActSerializer):
    """What was fitted where: an item, or a specification where no item is known."""

    record = replace(
        INSTALLATIONS,
        fields=(
            "position item specification movement installed_at installed_why temporary_until approved_by "
            "approval_reference inspect_by differences note verdict"
        ),
    )
    specification = IdField(queryset=Specification.objects.all(), required=False, allow_null=True)
    movement = IdField(
        source="stock_entry",
        queryset=StockEntry.objects.select_related("item"),
        required=False,
        allow_null=True,
    )
    verdict = quote_field()
    differences = serializers.ListField(
        child=StrictCharField(max_length=200), required=False, max_length=MOST_DIFFERENCES
    )

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        typed = [name for name in MANAGERS_MEMBERS if values.get(name)]
        if typed and roles_of(self.context["request"]).isdisjoint(APPROVING_ROLES):
            return {name: [fact("approver_not_typed", field=name)] for name in typed}
        nothing = values.get("item") is None and values.get("specification") is None
        if nothing and not {"item", "specification"} & set(faults):
            return {"item": ["Say what was fitted: give an item or a specification."]}
        return {}


class RemoveSerializer(ActSerializer):
    """When the unit came off, and how its life ended."""

    record = replace(
        INSTALLATIONS,
        fields="removed_at ended_by mechanism cause part running_hours age_basis work_order note",
    )
    removed_at = UtcDateTimeField()
    ended_by = StrictChoiceField(choices=EndedBy.choices)


class WithdrawalSerializer(BodySerializer):
    """Why the record says that a unit was fitted which never was."""

    reason = StrictCharField(max_length=200)


class ApprovalRequestSerializer(ActSerializer):
    """A time longer than allowed before needs another approval: none is changed."""

    record = replace(APPROVALS, fields="approved_by until_on reference inspect_by")


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
    queryset: QuerySet[Any] = Installation.objects.with_parts().select_related("recorded_verdict")
    write_serializer_class = InstallSerializer
    filterset_class = InstallationFilter
    action_roles: ClassVar[Mapping[str, Collection[str] | None]] = {"approve": (Role.MANAGER,)}
    listings: ClassVar[Mapping[str, Listing]] = {"approvals": Listing(None, ["id"], "-id")}

    def perform_create(self, serializer: Any) -> Installation:
        values = dict(serializer.validated_data)
        position, quoted = values.pop("position"), values.pop("verdict", None) or ""
        with verdict_refusals(self.request):
            return fit(position, by=caller_name(self.request), quoted=quoted, **values)

    @post_action(RemoveSerializer, InstallationSerializer)
    def remove(self, unit: Installation, values: dict[str, Any]) -> None:
        """Record that the unit came off."""
        history.remove(unit, **values)

    @extend_schema(request=WithdrawalSerializer, responses=InstallationSerializer)
    @action(detail=True, methods=["post"], url_path="never-fitted")
    @idempotent()
    def never_fitted(self, request: Request, pk: str) -> HttpResponseBase:
        """The unit never was on the position: its record is withdrawn, and answered once more as it was."""
        reason = self.read(WithdrawalSerializer, request)["reason"]
        unit = self.get_object()
        shown = self.represent(unit)
        with logging_deletion(list(unit.approvals.all())), logging_deletion([unit]):
            history.withdraw(unit, reason=reason, by=caller_name(request))
        return Response(shown)

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
