"""Movements: the ledger, read line by line and appended to by its writer alone."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.db.models import Q, QuerySet
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request

from api.answers.substitutes import OfferSerializer
from api.edge.concurrency import EtagCreateMixin, etag_response
from api.edge.errors import state_refusal
from api.edge.filtering import WordsFilter
from api.edge.idempotency import idempotent
from api.edge.narrowing import Chosen, keys_of
from api.resources.booking import (
    FoundRequestSerializer,
    MovementRequestSerializer,
    NotThereRequestSerializer,
    ReverseSerializer,
    caller_of,
    movement_of,
)
from api.resources.remedies import ledger_refusals, verdict_refusals
from api.wire.facts import FactSerializer
from api.wire.records.movements import MOVEMENTS
from api.wire.serializers import ReadSerializer
from api.wire.views import ReadRecordViewSet, filterset_of
from drives.feed.movements_from_orders import issued_by_message
from drives.service_record.blocked_items import refuse_blocked
from drives.service_record.pieces_out import book_return, is_booked, reverse_movement
from drives.service_record.reservation_override import may_override_reservation
from drives.substitutes.fit_questions import open_questions
from drives.substitutes.fitting_verdict import FittingVerdict, checked_verdict, record_issue, verdict_at
from drives.substitutes.offers import available_substitutes
from inventory.facts import Fact, fact
from inventory.models import Lifecycle, MovementKind, Reservation, ReservationState, StockEntry
from inventory.stores import ledger
from inventory.stores.counting.found_and_missing import FoundStock, book_found, book_not_there
from inventory.stores.ledger import Movement
from inventory.stores.ledger.booking import book


class MovementSerializer(ReadSerializer):
    """One line of the ledger. `change` is what it did to the shelf; a transfer has a line at each end."""

    record = MOVEMENTS
    quantity = serializers.SerializerMethodField()
    to_storeroom = serializers.SerializerMethodField()
    from_storeroom = serializers.SerializerMethodField()
    notes = serializers.SerializerMethodField(
        help_text="With the answer that booked it: what else has to be known, such as a reservation that had ended."
    )
    supplier = serializers.SerializerMethodField(
        help_text="Of what came for an order: the supplier that the order names."
    )
    reversed_quantity = serializers.SerializerMethodField()
    reversed_by = serializers.SerializerMethodField()

    def get_quantity(self, entry: StockEntry) -> int:
        return abs(entry.change)

    def get_to_storeroom(self, entry: StockEntry) -> str | None:
        return entry.other_storeroom.code if entry.other_storeroom and entry.change < 0 else None

    def get_from_storeroom(self, entry: StockEntry) -> str | None:
        return entry.other_storeroom.code if entry.other_storeroom and entry.change > 0 else None

    @extend_schema_field(FactSerializer(many=True))
    def get_notes(self, entry: StockEntry) -> list[Any]:
        return [FactSerializer(note).data for note in getattr(entry, "notes", ())]

    def get_supplier(self, entry: Any) -> str | None:
        return entry.supplier or None

    def get_reversed_quantity(self, entry: Any) -> int:
        return abs(int(entry.net) - int(entry.change))

    def get_reversed_by(self, entry: Any) -> int | None:
        """The last reversal, once nothing is left."""
        return None if entry.net or not entry.change else entry.last_reversal


class FoundSerializer(MovementSerializer):
    """The issue, and the count that was booked with it."""

    count = MovementSerializer(
        read_only=True, allow_null=True, help_text="null: booked before, by its reference."
    )
    count_task = serializers.IntegerField(read_only=True, allow_null=True)


class NotThereSerializer(MovementSerializer):
    """The count, and what else could serve: on a shelf now, best first."""

    count_task = serializers.IntegerField(read_only=True)
    next = OfferSerializer(many=True, read_only=True)


class SupplierFilter(WordsFilter):
    """What came for the orders of these suppliers: by its keys where it is little, as no index of the ledger has it."""

    def choose(self, chosen: Chosen, value: list[str]) -> Chosen:
        came = StockEntry.objects.filter(delivery_checks__order__supplier__in=value)
        keys = keys_of(came)
        return chosen.among_many(Q(pk__in=came.values("pk"))) if keys is None else chosen.with_keys(keys)


class MovementFilter(filterset_of(MOVEMENTS)):  # type: ignore[misc]
    to_storeroom = WordsFilter(method="filter_to_storeroom")
    supplier = SupplierFilter()

    def filter_to_storeroom(self, queryset: QuerySet[Any], name: str, codes: list[str]) -> QuerySet[Any]:
        return queryset.filter(change__lt=0, other_storeroom__code__in=codes)


class MovementViewSet(EtagCreateMixin, ReadRecordViewSet):
    """Receipts, issues, transfers and counts. A line is never changed or deleted."""

    record = MOVEMENTS
    queryset: QuerySet[Any] = (
        StockEntry.objects.with_places().select_related("recorded_verdict").with_supplier().with_reversals()
    )
    write_serializer_class = MovementRequestSerializer
    filterset_class = MovementFilter
    requires_idempotency_key = True

    def perform_create(self, serializer: Any) -> StockEntry:
        movement = movement_of(serializer.validated_data, caller_of(self.request))
        if movement.override and not may_override_reservation(movement.work_order):
            found = fact("override_only_for_corrective_work", work_order=movement.work_order)
            raise state_refusal(ledger.LedgerRefusal(found, field="override"))
        movement, notes = with_reservations(movement)
        judged = judged_issue(self.request, movement, serializer.validated_data)
        with ledger_refusals(self.request, movement):
            booked = book_return(movement) if movement.kind == MovementKind.RETURN else book(movement)
        if not booked.is_replay:
            record_issue(judged, booked.entry)
            open_questions(booked.entries)
            booked.entry.notes = (*notes, *notes_of_order(movement))  # type: ignore[attr-defined]
            if judged is None:
                with_no_reversals(booked.entry)
        return booked.entry

    def fresh(self, instance: StockEntry) -> StockEntry:
        if hasattr(instance, "net"):
            return instance  # Booked in this request, and never changed: it is not read again.
        entry: StockEntry = super().fresh(instance)
        entry.notes = getattr(instance, "notes", ())  # type: ignore[attr-defined]
        return entry

    @extend_schema(request=ReverseSerializer, responses={201: MovementSerializer})
    @action(detail=True, methods=["post"])
    @idempotent(required=True)
    def reverse(self, request: Request, pk: str) -> HttpResponseBase:
        """Reverse a mistaken movement or a part of it; a transfer with both of its lines.

        An issue whose unit is fitted is refused with what can be done about it. What an issue had used of a kit is reserved for
        the kit again, as far as it is there, unless the kit was taken apart or the work order has another one.
        """
        said = self.read(ReverseSerializer, request)
        entry = self.get_object()
        with ledger_refusals(request):
            booked = reverse_movement(entry, by=caller_of(request), **said)
        return self.created(request, booked.entry)

    @extend_schema(request=FoundRequestSerializer, responses={201: FoundSerializer})
    @action(detail=False, methods=["post"])
    @idempotent(required=True)
    def found(self, request: Request) -> HttpResponseBase:
        """The book says there is too little, and the piece is in the hand: count and issue in one, both or none.

        The shelf is put on the list of counts.
        """
        values = dict(self.read(FoundRequestSerializer, request))
        counted = values.pop("counted", None)
        movement = movement_of({**values, "kind": MovementKind.ISSUE}, caller_of(request))
        movement, _ = with_reservations(movement)
        judged = judged_issue(request, movement, values)
        with ledger_refusals(request, movement):
            done = book_found(movement, counted=counted)
        if not done.issue.is_replay:
            record_issue(judged, done.issue.entry)
        return self.created(request, done.issue.entry, **shown_found(self, done))

    @extend_schema(request=NotThereRequestSerializer, responses={201: NotThereSerializer})
    @action(detail=False, methods=["post"], url_path="not-there")
    @idempotent(required=True)
    def not_there(self, request: Request) -> HttpResponseBase:
        """The shelf is empty although the book says otherwise: a count of none, and what else could serve.

        Reservations that relied on it are kept as short, and their owners are notified. The shelf is put on the list of counts.
        """
        values = dict(self.read(NotThereRequestSerializer, request))
        position = values.pop("position", None)
        with ledger_refusals(request):
            done = book_not_there(**values, by=caller_of(request))
        offers = available_substitutes(values["item"], position, here=values["storeroom"], at=timezone.now())
        shown = OfferSerializer(offers, many=True).data
        return self.created(request, done.booked.entry, count_task=done.task.pk, next=shown)

    def created(self, request: Request, entry: StockEntry, **more: Any) -> HttpResponseBase:
        entry = self.fresh(entry)
        response = etag_response(request, {**self.represent(entry), **more}, status.HTTP_201_CREATED)
        response["Location"] = self.location_of(entry)
        return response


def with_no_reversals(entry: Any) -> None:
    """A line that was just booked, without a verdict, with what the queryset adds to it."""
    entry.net, entry.last_reversal, entry.supplier = entry.change, None, ""
    StockEntry._meta.get_field("recorded_verdict").set_cached_value(entry, None)


def judged_issue(request: Request, movement: Movement, values: Mapping[str, Any]) -> FittingVerdict | None:
    """The verdict of an issue to a position, or a refusal of what is blocked; what was booked before by its reference is not judged again."""
    position, quoted = values.get("position"), values.get("verdict") or ""
    is_asked = position or quoted or movement.item.lifecycle == Lifecycle.BLOCKED
    if movement.kind != MovementKind.ISSUE or not is_asked or is_booked(movement):
        return None
    refuse_blocked(movement)
    found = verdict_at(position, item=movement.item)
    with verdict_refusals(request):
        return checked_verdict(found, quoted=quoted, reason=movement.reason, field="reason")


def with_reservations(movement: Movement) -> tuple[Movement, tuple[Fact, ...]]:
    """An issue with the open reservations of its work order; or a note that the one it had has ended."""
    if movement.kind != MovementKind.ISSUE or not movement.work_order:
        return movement, ()
    place = {name: getattr(movement, name) for name in ("work_order", "item", "storeroom", "condition")}
    known = dict(Reservation.objects.filter(**place).order_by("pk").values_list("pk", "state"))
    opened = frozenset(pk for pk, state in known.items() if state == ReservationState.OPEN)
    last = next(reversed(known.values()), "")
    if opened or last not in (ReservationState.RELEASED, ReservationState.EXPIRED):
        return replace(movement, reservations=opened), ()
    return movement, (
        fact("issued_after_reservation_ended", work_order=movement.work_order, state=str(last)),
    )


def notes_of_order(movement: Movement) -> tuple[Fact, ...]:
    """Read under the lock of the shelf: a message of the order that comes at the same moment is before this or after it."""
    if movement.kind != MovementKind.ISSUE or not movement.work_order:
        return ()
    return issued_by_message(movement.item, movement.work_order)


def shown_found(view: MovementViewSet, done: FoundStock) -> dict[str, Any]:
    count = view.represent(view.fresh(done.count.entry)) if done.count else None
    return {"count": count, "count_task": done.task.pk if done.task else None}
