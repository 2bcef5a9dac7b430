"""Items of the catalogue: a stock number, its words, and the specification behind it."""

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any, ClassVar, Literal, cast

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import HttpResponseBase
from django.urls import reverse
from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.asked_parts import AskedFilterSet
from api.answers.merges import merge_numbers
from api.answers.run_downs import mark_run_down
from api.edge.auth import caller_name
from api.edge.change_log import logging_save
from api.edge.errors import Conflict
from api.edge.filtering import IdsFilter, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.scope import visible_to_caller
from api.exchange.specifications import shared_by_others
from api.exchange.successors import in_circles
from api.models import Role
from api.resources.booking import caller_of
from api.resources.merges import MergeRequestSerializer, MergeSerializer, MergeViewSet
from api.resources.movements import MovementFilter, MovementSerializer
from api.resources.run_downs import RunDownReasonSerializer, RunDownSerializer
from api.resources.specifications import SpecificationSerializer
from api.resources.stock import SHELVES, STOCK_ROWS, StockFilter, shown_by
from api.wire.attribute_filters import AttributeFilterSet
from api.wire.records.items import ITEMS
from api.wire.records.movements import MOVEMENTS
from api.wire.records.stock import STOCK
from api.wire.references import IdField
from api.wire.serializers import MemberErrors, RecordSerializer
from api.wire.views import KeyedRecordViewSet, filterset_of, listing_of
from inventory.catalogue.asked_parts import of_items
from inventory.descriptions.query import QueryFilter
from inventory.models import Item, Specification, StockEntry, StockLevel, with_stock_totals

Direction = Literal["request", "response"]


class SpecificationBehindField(IdField):
    """Shown as an object; taken as the id of one, or as an object with the attributes of a new one."""

    shown_as = SpecificationSerializer

    default_error_messages = {
        "incorrect_type": "The id of a specification is expected here, or an object with its attributes.",
    }

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            return dict(self.nested().run_validation(data))
        return super().to_internal_value(data)

    def use_pk_only_optimization(self) -> bool:
        return False

    def nested(self) -> SpecificationSerializer:
        nested = SpecificationSerializer()
        nested.bind("specification", cast(Any, self.parent))
        return nested

    @cached_property
    def shown(self) -> SpecificationSerializer:
        """One for all items of a list: its thirty members are built once."""
        return SpecificationSerializer(context=self.context)

    def to_representation(self, value: Any) -> Any:
        return self.shown.to_representation(value)


class SpecificationBehindSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "api.resources.items.SpecificationBehindField"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        named: dict[str, Any] = auto_schema.resolve_serializer(SpecificationSerializer, direction).ref
        if direction == "response":
            return named
        return {"oneOf": [{"type": "integer", "minimum": 1}, named]}


class ItemSerializer(RecordSerializer):
    """An item with the specification behind it and what the storerooms hold of it together."""

    record = ITEMS
    specification = SpecificationBehindField(
        queryset=Specification.objects.all(), required=False, allow_null=True
    )

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        inline = values.get("specification")
        plain = {k: v for k, v in values.items() if not (k == "specification" and isinstance(inline, dict))}
        found = super().check_members(plain, faults)
        if self.instance is not None and closes_a_circle(self.instance, values.get("replaced_by")):
            found["replaced_by"] = ["Its successors lead back to this item: name the one that is bought now."]
        return found

    def create(self, validated_data: Any) -> Item:
        return save_item(Item(), validated_data)

    def update(self, instance: Any, validated_data: Any) -> Item:
        refuse_other_unit(instance, validated_data.get("unit", instance.unit))
        return save_item(instance, validated_data)


def save_item(item: Item, values: dict[str, Any]) -> Item:
    """Write the item, and before it the specification that was given with it."""
    behind = values.pop("specification", item.specification)
    with transaction.atomic():
        item.specification = save_specification(item, behind) if isinstance(behind, dict) else behind
        for name, value in values.items():
            setattr(item, name, value)
        item.save()
    return item


def save_specification(item: Item, values: dict[str, Any]) -> Specification:
    """The item's own specification is changed in place; one that others stand on is left to them."""
    own = item.specification
    if own is None or shared_by_others({own.pk}):
        own = Specification()
    with logging_save(own):
        for name, value in values.items():
            setattr(own, name, value)
        own.save()
    return own


def refuse_other_unit(item: Item, unit: str) -> None:
    if unit != item.unit and StockEntry.objects.filter(item=item).exists():
        raise Conflict(
            f"{item} has been booked by {item.unit} already: give what is counted by {unit} a number of its own."
        )


def closes_a_circle(item: Item, successor: Item | None) -> bool:
    if successor is None:
        return False
    recorded = Item.objects.filter(replaced_by__isnull=False).values_list(
        "stock_number", "replaced_by__stock_number"
    )
    return item.stock_number in in_circles({**dict(recorded), item.stock_number: successor.stock_number})


class AskedItemFilter(AskedFilterSet, AttributeFilterSet):
    named_by = ("stock_number", "maker_part_number")

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        return of_items(filters)


class ItemFilter(filterset_of(ITEMS, AskedItemFilter)):  # type: ignore[misc]
    attributes_of = "specification__"
    specification = IdsFilter(help_text="Comma list of ids.")
    storeroom = WordsFilter(
        method="filter_storeroom", help_text="Items that have a place there; with in_stock, free there."
    )
    in_stock = TruthFilter(method="filter_in_stock", help_text="At least one is free.")

    def filter_storeroom(self, queryset: QuerySet[Any], name: str, codes: list[str]) -> QuerySet[Any]:
        if self.form.cleaned_data.get("in_stock") is not None:
            return queryset
        return queryset.filter(Exists(levels_in(visible_to_caller(StockLevel.objects.all()), codes)))

    def filter_in_stock(self, queryset: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        codes = self.form.cleaned_data.get("storeroom") or []
        there = Exists(levels_in(visible_to_caller(StockLevel.objects.available()), codes))
        return queryset.filter(there if value else ~there)


def levels_in(levels: QuerySet[StockLevel], codes: list[str]) -> QuerySet[StockLevel]:
    """The levels of the outer item, in these storerooms or in any."""
    own = levels.filter(item=OuterRef("pk"))
    return own.filter(storeroom__code__in=codes) if codes else own


class ItemViewSet(KeyedRecordViewSet):
    """Everything that the storerooms may hold, by stock number."""

    record = ITEMS
    filterset_class = ItemFilter
    lookup_url_kwarg = "id"
    action_roles: ClassVar = {"merge": (Role.MANAGER,), "run_down": (Role.MANAGER,)}
    listings = {
        "movements": listing_of(MOVEMENTS, MovementFilter),
        "stock": listing_of(STOCK, StockFilter),
    }

    def get_queryset(self) -> Any:
        """With totals over the storerooms that the caller may see."""
        return with_stock_totals(super().get_queryset())

    @extend_schema(responses=MovementSerializer(many=True))
    @action(detail=True)
    def movements(self, request: Request, id: str) -> Response:
        """The ledger of one item, newest first."""
        return self.list_of(
            StockEntry.objects.with_places()
            .select_related("recorded_verdict")
            .with_supplier()
            .with_reversals()
            .of_item(self.get_object()),
            MovementSerializer,
        )

    @extend_schema(request=MergeRequestSerializer, responses={201: MergeSerializer})
    @action(detail=True, methods=["post"])
    @idempotent(required=True)
    def merge(self, request: Request, id: str) -> HttpResponseBase:
        """Let this number go on under another one, with its stock, reservations, policies, open orders and requests.

        What was booked stays readable under both. Where the two are not one part wherever they go, an engineer must have said yes.
        """
        values = self.read(MergeRequestSerializer, request)
        item, into = self.get_object(), values.pop("into")
        made = merge_numbers(item, into, by=caller_of(request), **values)
        shown = MergeSerializer(MergeViewSet.queryset.get(pk=made.pk)).data
        address = request.build_absolute_uri(reverse("merge-detail", kwargs={"pk": made.pk}))
        return Response(shown, status=status.HTTP_201_CREATED, headers={"Location": address})

    @extend_schema(request=RunDownReasonSerializer, responses={201: RunDownSerializer})
    @action(detail=True, methods=["post"], url_path="run-down")
    @idempotent(required=True)
    def run_down(self, request: Request, id: str) -> HttpResponseBase:
        """Buy nothing more of this item and use up what lies there.

        Refused for the only active item held that serves a vital or lifting drive, and for who does not see all plants.
        """
        values = self.read(RunDownReasonSerializer, request)
        (mark,) = mark_run_down([self.get_object().pk], by=caller_name(request), **values)
        address = request.build_absolute_uri(reverse("run-down-detail", kwargs={"pk": mark.pk}))
        return Response(
            RunDownSerializer(mark).data, status=status.HTTP_201_CREATED, headers={"Location": address}
        )

    @extend_schema(responses=STOCK_ROWS)
    @action(detail=True)
    def stock(self, request: Request, id: str) -> Response:
        """Where this item lies; with `as_of`, where it lay by what was recorded until then."""
        return self.list_of(SHELVES.filter(item=self.get_object()), shown_by(request))
