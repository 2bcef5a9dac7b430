"""A small site over Django's own users and groups, on which the edges are tried without any resource."""

from typing import Any

from django import forms
from django.contrib.auth.models import Group, User
from django.db import models, transaction
from django.urls import include, path
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.routers import SimpleRouter

from api.edge.errors import Conflict, core_refusals, field_errors
from api.edge.filtering import Listing, NumberText, Range, StrictFilterSet, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.pagination import KeysetPagination
from api.edge.parsing import (
    LengthField,
    MoneyField,
    StrictBooleanField,
    StrictChoiceField,
    StrictFloatField,
    StrictIntegerField,
    StrictModelSerializer,
    StrictSerializer,
    UtcDateTimeField,
)
from api.edge.viewsets import ResourceViewSet, StrictAPIView
from api.urls import handler400, handler403, handler404, handler500  # noqa: F401
from api.urls import urlpatterns as own
from inventory.number_checks import number


class PersonSerializer(StrictModelSerializer):
    class Meta:
        model = User
        fields = ["id", "username", "first_name", "last_login", "is_active"]
        read_only_fields = ["is_active"]


class PersonFilter(StrictFilterSet):
    numbers = {"id": Range(0, 10**9, whole=True)}
    moments = {"last_login": ""}
    search_fields = ["username", "first_name"]
    username = WordsFilter()
    first_name = WordsFilter(choices=["Ann", "Bob", "Cy"])
    is_active = TruthFilter()


class PersonViewSet(ResourceViewSet):
    queryset = User.objects.all()
    serializer_class = PersonSerializer
    filterset_class = PersonFilter
    ordering_fields = ["username", "last_login", "first_name"]
    ordering = "username"
    write_roles = ("manager", "storeroom")


class GroupSerializer(StrictModelSerializer):
    class Meta:
        model = Group
        fields = ["id", "name"]


class GroupViewSet(ResourceViewSet):
    queryset = Group.objects.all()
    serializer_class = GroupSerializer
    requires_idempotency_key = True
    action_roles = {"blocked": None}
    listings = {"members": Listing(PersonFilter, ordering_fields=["username"], ordering="username")}

    @action(detail=False, methods=["post"])
    @idempotent(required=True)
    def blocked(self, request: Request) -> Response:
        Group.objects.create(name="never kept")
        raise Conflict("Nothing is left on the shelf.", remedies=[{"action": "found"}])

    @action(detail=True)
    def members(self, request: Request, pk: str) -> Response:
        return self.list_of(self.get_object().user_set.all(), PersonSerializer)

    def perform_destroy(self, instance: Any) -> None:
        if instance.name == "held":
            raise models.ProtectedError("held", {User(pk=1, username="ann")})
        super().perform_destroy(instance)


class ShaftSerializer(StrictSerializer):
    diameter_mm = LengthField(min_mm=5, max_mm=500)
    keyed = StrictBooleanField(default=True)


class SizesSerializer(StrictSerializer):
    shaft = ShaftSerializer()
    speed_rpm = StrictFloatField(min_value=0, max_value=20_000, required=False)
    teeth = StrictIntegerField(min_value=6, max_value=300, required=False)
    role = StrictChoiceField(choices=["driver", "driven", "idler"], required=False)
    unit_cost = MoneyField(required=False)
    at = UtcDateTimeField(required=False)
    lines = serializers.ListField(child=StrictIntegerField(), required=False)
    shafts = ShaftSerializer(many=True, required=False)


class SizesView(StrictAPIView):
    def post(self, request: Request) -> Response:
        value = self.read(SizesSerializer, request)
        shown = dict(SizesSerializer(value).data)
        return Response(shown)


class TeethForm(forms.Form):
    teeth = NumberText(span=Range(6, 300, whole=True))
    strands = NumberText(span=Range(1, 10, whole=True), required=False)


class TeethView(StrictAPIView):
    query_form = TeethForm

    def get(self, request: Request) -> Response:
        return Response({name: value and int(value) for name, value in self.read_query().items()})


class FaultView(StrictAPIView):
    """Raises what is asked for."""

    query_parameters = ("kind",)

    def get(self, request: Request) -> Response:
        kind = request.query_params["kind"]
        if kind == "core":
            with core_refusals("required", "shaft"):
                raise ValueError("`diameter_mm` must be positive, not -1.")
        if kind == "number":
            with core_refusals("required"):
                number("teeth", 2, least=5, most=300)
        if kind == "pointers":
            raise field_errors({"/lines/3": "Not understood.", "/a~1b": ["One.", "Two."]})
        if kind == "unique":
            with transaction.atomic():
                Group.objects.bulk_create([Group(name="x"), Group(name="x")])
        faults: dict[str, Exception] = {"overflow": OverflowError(), "recursion": RecursionError()}
        raise faults.get(kind, RuntimeError("secret of the house"))


class ListedView(StrictAPIView):
    query_parameters = ("limit", "cursor")

    def get(self, request: Request) -> Response:
        pager = KeysetPagination()
        return pager.get_paginated_response(pager.paginate_queryset(list(range(7)), request, self))


router = SimpleRouter()
router.register("people", PersonViewSet, basename="people")
router.register("groups", GroupViewSet, basename="groups")
urlpatterns = [
    path("api/v1/try/", include(router.urls)),
    path("api/v1/try/sizes/", SizesView.as_view()),
    path("api/v1/try/teeth/", TeethView.as_view()),
    path("api/v1/try/fault/", FaultView.as_view()),
    path("api/v1/try/listed/", ListedView.as_view()),
    *own,
]
