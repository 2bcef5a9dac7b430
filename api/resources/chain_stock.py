"""What the chain in stock is good for: jobs, and remnants that serve none."""

from typing import Any

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request

from api.edge.pagination import KeysetPagination
from api.edge.parsing import MoneyField
from api.edge.viewsets import StrictAPIView
from api.resources.reorder_list import ReorderQuery, storeroom_of
from inventory.planning.chain_stock import chain_stock


class ChainStockSerializer(serializers.Serializer[Any]):
    item = serializers.CharField(source="item.stock_number")
    storeroom = serializers.CharField()
    on_hand = serializers.IntegerField()
    piece_links = serializers.ListField(child=serializers.IntegerField(), help_text="Longest first.")
    reserved = serializers.IntegerField()
    links_per_job = serializers.IntegerField(
        source="jobs.links_per_job", default=None, allow_null=True, help_text="Null: no job is on record."
    )
    shortest_job_links = serializers.IntegerField(source="jobs.shortest_links", default=None, allow_null=True)
    serves_jobs = serializers.IntegerField(
        allow_null=True, help_text="Whole jobs that can be cut from what is not reserved."
    )
    serves_no_job = serializers.IntegerField(allow_null=True, help_text="Links that are left over then.")
    remnant_links = serializers.ListField(
        child=serializers.IntegerField(),
        help_text="Pieces shorter than any job on record, longest first: to be used up or scrapped first.",
    )
    remnant_value = MoneyField(max_digits=30, allow_null=True)
    currency = serializers.CharField(source="item.currency")


class ChainStockPageSerializer(serializers.Serializer[Any]):
    next = serializers.URLField(allow_null=True)
    previous = serializers.URLField(allow_null=True)
    results = ChainStockSerializer(many=True)


class ChainStockView(StrictAPIView):
    """Chain by item and storeroom, in the jobs that its pieces serve."""

    is_list = True
    query_form = ReorderQuery

    @extend_schema(responses=ChainStockPageSerializer)
    def get(self, request: Request) -> HttpResponseBase:
        rows = chain_stock(storeroom=storeroom_of(self.read_query()["storeroom"]))
        pager = KeysetPagination()
        page = pager.paginate_queryset(rows, request)
        return pager.get_paginated_response(ChainStockSerializer(page, many=True).data)
