"""The reorder list: what to order, how many, and which returns to wait for; as JSON or CSV."""

from collections.abc import Iterable, Iterator
from functools import partial
from typing import Any

from django import forms
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.answers.reorder_totals import totals_of
from api.edge.errors import parameter_errors
from api.edge.filtering import NumberText, Range
from api.edge.list_files import FORMS, RENDERERS, wants_file
from api.edge.pagination import KeysetPagination
from api.edge.parsing import MoneyField
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from api.wording.sentences import sentence
from inventory.facts import fact
from inventory.models import Storeroom
from inventory.planning.reorder_list import ORDER, TRANSFER, WAIT, ReorderLine, place_of, reorder_lines
from inventory.planning.reorder_sums import ExpectedCost, ReorderSum


class ReorderLineSerializer(serializers.Serializer[Any]):
    item = serializers.CharField(source="item.stock_number")
    description = serializers.CharField(source="item.description")
    storeroom = serializers.CharField(source="storeroom.code")
    action = serializers.ChoiceField(choices=[ORDER, TRANSFER, WAIT])
    quantity = serializers.IntegerField(
        help_text="To order now, or to transfer from another storeroom; 0 while it waits for a return."
    )
    unit = serializers.CharField(source="item.unit")
    reorder_point = serializers.IntegerField()
    order_up_to = serializers.IntegerField()
    on_hand = serializers.IntegerField(source="stock.on_hand")
    reserved = serializers.IntegerField(source="stock.reserved")
    on_order = serializers.IntegerField(source="stock.on_order")
    serves_no_job = serializers.IntegerField(
        source="stock.serves_no_job",
        help_text="Of chain: links on hand or on order that no whole job can be cut from; they do not count as stock.",
    )
    links_per_job = serializers.IntegerField(
        allow_null=True, help_text="Of chain: the length in which it is counted and ordered."
    )
    next_due_on = serializers.DateField(source="stock.next_due_on", allow_null=True)
    due_back = serializers.IntegerField(source="stock.due_back", help_text="Lent out and expected back.")
    back_on = serializers.DateField(source="stock.back_on", allow_null=True)
    overdue_back = serializers.IntegerField(source="stock.overdue_back")
    unit_cost = MoneyField(source="item.unit_cost", allow_null=True)
    expected_cost = MoneyField(max_digits=30, allow_null=True)
    currency = serializers.CharField(source="item.currency")
    lead_time_days = serializers.IntegerField(source="item.lead_time_days", allow_null=True)
    maker = serializers.CharField(source="item.maker")
    maker_part_number = serializers.CharField(source="item.maker_part_number")
    members = serializers.ListField(
        child=serializers.CharField(), help_text="Other numbers of the same part whose pieces count here."
    )
    notes = FactSerializer(many=True)


class ExpectedCostSerializer(CoreAnswerSerializer):
    of = ExpectedCost
    members = "currency amount"
    amount = MoneyField(max_digits=30)


class ReorderSumSerializer(CoreAnswerSerializer):
    of = ReorderSum
    members = "storeroom to_order without_price to_transfer waiting costs"
    texts = {
        "to_order": "Lines to order.",
        "without_price": "Of these, lines whose item has no price.",
        "to_transfer": "Lines to transfer from another storeroom.",
        "waiting": "Lines that wait for a return.",
        "costs": "Expected cost of the lines to order, by currency.",
    }
    costs = ExpectedCostSerializer(many=True)


class ReorderPageSerializer(serializers.Serializer[Any]):
    totals_as_of = serializers.DateTimeField(allow_null=True)
    totals = ReorderSumSerializer(
        many=True,
        allow_null=True,
        help_text="Of the whole list, by storeroom; of a list of several pages as a job calculated them last. Null: not yet.",
    )
    next = serializers.URLField(allow_null=True)
    previous = serializers.URLField(allow_null=True)
    results = ReorderLineSerializer(many=True)


class ReorderQuery(forms.Form):
    storeroom = forms.CharField(required=False, max_length=20)
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    cursor = forms.CharField(required=False)


class ReorderListView(StrictAPIView):
    """What has fallen to its reorder point. A file holds all of it, without pages."""

    query_form = ReorderQuery
    renderer_classes = [JSONRenderer, *RENDERERS]

    @extend_schema(
        responses={
            (200, "application/json"): ReorderPageSerializer,
            **{(200, one.media_type): OpenApiTypes.STR for one in RENDERERS},
        },
    )
    def get(self, request: Request) -> HttpResponseBase:
        wanted = self.read_query()
        walk = partial(reorder_lines, today=timezone.localdate(), storeroom=storeroom_of(wanted["storeroom"]))
        if wants_file(request):
            return file_of_lines(walk(), request.accepted_renderer.format)
        pager = KeysetPagination()
        page = pager.paginate_walk(partial(_walked, walk), request, place_of)
        is_whole = pager.next is None and pager.previous is None
        totals = totals_of(request, wanted["storeroom"], page if is_whole else None)
        shown = {
            "totals_as_of": totals.as_of,
            "totals": totals.rooms,
            "next": pager.next,
            "previous": pager.previous,
            "results": page,
        }
        return Response(ReorderPageSerializer(shown).data)


def _walked(walk: Any, place: list[str] | None, backward: bool) -> Iterator[ReorderLine]:
    found: Iterator[ReorderLine] = walk(after=place and (place[0], place[1]), backward=backward)
    return found


def storeroom_of(code: str) -> Storeroom | None:
    if not code:
        return None
    room = visible_to_caller(Storeroom.objects.filter(code=code)).first()
    if room is None:
        raise parameter_errors({"storeroom": fact("no_such_record", kind="storeroom", name=code)})
    return room


def csv_row(line: ReorderLine) -> list[Any]:
    shown = ReorderLineSerializer(line).data | {"notes": [sentence(note) for note in line.notes]}
    return list(shown.values())


def file_of_lines(lines: Iterable[ReorderLine], form: str) -> HttpResponseBase:
    """Text that a spreadsheet takes for no formula."""
    header = list(ReorderLineSerializer().fields)
    # Read while the request still says who asks.
    rows = [csv_row(line) for line in lines]
    return FORMS[form](f"reorder-list.{form}", header, iter(rows))
