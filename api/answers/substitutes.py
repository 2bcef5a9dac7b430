"""Substitutes for a position or an item: ranked and explained, with their stock and how soon the drive runs."""

from typing import Any, TypeVar

from django import forms
from django.db.models import Model, QuerySet
from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer, shared
from api.answers.verdicts import ListedVerdictSerializer, VerdictSerializer, number_sources
from api.edge.errors import parameter_errors
from api.edge.filtering import NearMomentText, NumberText, Range, TruthText
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from api.wording.record_kinds import kind_for_programs
from drives.lessons.track_record import TrackRecord
from drives.models import Position
from drives.substitutes.companions import Companion
from drives.substitutes.offers import (
    Offer,
    RankedOffers,
    Wanted,
    substitutes_for_item,
    substitutes_for_position,
)
from drives.substitutes.position_requirement import positions_with_requirements
from drives.substitutes.ready_time import ReadyTime
from inventory.catalogue.ranked_shortlist import MOST_UNKNOWN_COUNTED, NotJudged
from inventory.catalogue.stock_on_hand import CompanionShelf, ShelfStock
from inventory.facts import fact
from inventory.interchange.vocabulary import Grade, Outcome
from inventory.models import Item, Storeroom
from inventory.models.access_scope import current_scope
from inventory.plumbing.prepared import PreparedQuery
from inventory.stores.open_orders import OpenOrder

DEFAULT_LIMIT = 20
Tagged = TypeVar("Tagged", bound=Model)


class ShelfSerializer(CoreAnswerSerializer):
    of = ShelfStock
    members = "storeroom bin condition on_hand reserved available"


class CompanionShelfSerializer(CoreAnswerSerializer):
    of = CompanionShelf
    members = (
        "item=shelf.stock_number storeroom=shelf.storeroom bin=shelf.bin condition=shelf.condition "
        "available=shelf.available piece_links"
    )
    texts = {"piece_links": "Of chain: the length of each piece."}


class CompanionSerializer(CoreAnswerSerializer):
    of = Companion
    members = "kind needed must_fetch quantity available is_short note stock=nearest_shelves further_shelves"
    texts = {
        "quantity": "Pieces or links; null: not known.",
        "available": "On the shelves looked at: of bushes and chain the hundred nearest, of keys and links those of the "
        "storeroom that asks and that of the plant, and ten others.",
        "stock": "The nearest shelves.",
        "further_shelves": "How many of the shelves looked at are not in `stock`.",
    }


class ReadyTimeSerializer(CoreAnswerSerializer):
    of = ReadyTime
    members = "fetch_minutes shop_done_minutes companions_minutes at_drive_minutes fitting_basis from_storeroom reason"
    texts = {"reason": "Why the minutes are not known."}


class TrackRecordSerializer(CoreAnswerSerializer):
    of = TrackRecord
    members = (
        "fitted ended mean_hours median_hours against against_median_hours p_value method outcome reason"
    )
    texts = {
        "fitted": "How often it was fitted at this position.",
        "mean_hours": "Of those that ended at this position.",
        "median_hours": "Of the lives compared, running and censored ones included.",
        "against": "Stock number of what is usually fitted.",
        "p_value": "One-sided: chance that it lasts this much shorter (or longer) if lives are alike; null: too few to compare.",
    }
    outcome = serializers.ChoiceField(
        choices=[Outcome.REVIEW.value], allow_null=True, help_text="Evidence only: it changes no grade."
    )


class OpenOrderSerializer(CoreAnswerSerializer):
    of = OpenOrder
    members = "source external_id storeroom pieces ordered_on promised_on overdue_days reason"
    texts = {
        "pieces": "Still to come.",
        "overdue_days": "Since the promised day; 0: not overdue; null: no day is promised.",
    }


class OfferedItemSerializer(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    stock_number = serializers.CharField()
    description = serializers.CharField()
    maker = serializers.CharField()
    lifecycle = serializers.CharField()
    unit_cost = serializers.CharField(allow_null=True)
    currency = serializers.CharField()


class OfferSerializer(CoreAnswerSerializer):
    of = Offer
    members = (
        "item verdict verdict_id stock=candidate.shelves available=candidate.available on_order companions "
        "ready_minutes=ready.minutes ready track_record"
    )
    texts = {
        "verdict_id": "Quote it when it is issued to the position or fitted there; null where no position was asked about."
    }
    item = OfferedItemSerializer(source="candidate.item")
    verdict = VerdictSerializer(source="candidate.verdict")
    companions = serializers.SerializerMethodField()

    @extend_schema_field(serializers.DictField(child=CompanionSerializer()))
    def get_companions(self, offer: Offer) -> dict[str, Any]:
        shown = shared(CompanionSerializer)
        return {companion.kind: shown.to_representation(companion) for companion in offer.companions}


class ListedOfferSerializer(OfferSerializer):
    verdict = ListedVerdictSerializer(source="candidate.verdict")


class BestSerializer(serializers.Serializer[Any]):
    by_grade = serializers.CharField(allow_null=True, help_text="Stock number of the best fit.")
    by_ready = serializers.CharField(
        allow_null=True, help_text="Stock number with which the drive runs soonest."
    )


class NotJudgedSerializer(CoreAnswerSerializer):
    of = NotJudged
    members = "lower_ranked certainly_unfit unknown_parts"
    texts = {
        "lower_ranked": "Their grade could not be better than that of the results.",
        "certainly_unfit": "What is known of them is enough to refuse them, such as the rows, the chain or the bore.",
        "unknown_parts": f"Neither pitch nor teeth are recorded: it could be anything. {MOST_UNKNOWN_COUNTED} at most are counted.",
    }


class SubstitutesSerializer(serializers.Serializer[Any]):
    judged = serializers.IntegerField(help_text="How many items were judged.")
    by_grade = serializers.DictField(
        child=serializers.IntegerField(), help_text="How many of them at each grade."
    )
    left_out = NotJudgedSerializer(help_text="How many items were not judged, and why.")
    more_unknown_parts = serializers.BooleanField(
        source="left_out.more_unknown_parts", help_text="There are more unknown parts than were counted."
    )
    available_not_judged = serializers.IntegerField(
        source="left_out.lower_ranked_available",
        help_text="Of the lower ranked, how many are on a shelf: one may need less work and be ready sooner. "
        "`ordering=ready` orders what was judged, the nearest that could fit among it.",
    )
    may_rank_higher = serializers.IntegerField(
        source="left_out.may_rank_higher",
        help_text="Of those left out, how many could be among the results. 0 but where many of those judged were worse than what is "
        "recorded of them let expect; the items are ranked by that, and four times as many are looked at as are shown.",
    )
    best = BestSerializer()
    notes = FactSerializer(many=True)
    sources = FactSerializer(
        many=True, help_text="What the checks rest on; each check names the places of its own, from 0."
    )
    results = ListedOfferSerializer(many=True)


class SubstitutesQuery(forms.Form):
    storeroom = forms.CharField(required=False, max_length=20)
    worst_grade = forms.ChoiceField(choices=[(g.value, g.value) for g in Grade], required=False)
    in_stock = TruthText(required=False)
    ordering = forms.ChoiceField(choices=[("grade", "grade"), ("ready", "ready")], required=False)
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    at = NearMomentText(required=False)


def storeroom_id(code: str) -> int | None:
    if not code:
        return None
    room = visible_to_caller(Storeroom.objects.all()).filter(code=code).first()
    if room is None:
        raise parameter_errors({"storeroom": fact("no_such_record", kind="storeroom", name=code)})
    return room.pk


def wanted_of(query: dict[str, Any]) -> Wanted:
    return Wanted(
        count=int(query["limit"] or DEFAULT_LIMIT),
        ordering=query["ordering"] or "grade",
        worst_grade=Grade(query["worst_grade"] or Grade.UNFIT),
        in_stock=query["in_stock"],
    )


def select_offers(answer: RankedOffers, wanted: Wanted) -> list[Offer]:
    """The offers that pass the query; the best of either order is among them, however short the page."""
    passing = [offer for offer in answer.offers if wanted.passes(offer)]
    page, rest = passing[: wanted.count], passing[wanted.count :]
    best = [offer for offer in rest if offer is answer.best_by_grade or offer is answer.best_by_ready]
    return page + best


def answer_json(answer: RankedOffers, wanted: Wanted) -> dict[str, Any]:
    grades = [offer.candidate.verdict.grade for offer in answer.offers]
    found: dict[str, Any] = shared(SubstitutesSerializer).to_representation(
        {
            "judged": len(answer.offers),
            "by_grade": {grade.value: grades.count(grade) for grade in Grade},
            "best": {"by_grade": _number(answer.best_by_grade), "by_ready": _number(answer.best_by_ready)},
            "notes": answer.notes,
            "left_out": answer.left_out,
            "sources": (),
            "results": select_offers(answer, wanted),
        }
    )
    sources = number_sources(row["verdict"] for row in found["results"])
    return found | {"sources": [shared(FactSerializer).to_representation(source) for source in sources]}


def _number(offer: Offer | None) -> str | None:
    return offer.candidate.item.stock_number if offer else None


def tagged_or_404(records: QuerySet[Tagged], tag: str) -> Tagged:
    record = visible_to_caller(records).filter(tag=tag).first()
    if record is None:
        raise Http404(f"There is no {kind_for_programs(records.model)} {tag!r}.")
    return record


POSITION = PreparedQuery(positions_with_requirements, "tag")


def position_or_404(tag: str) -> Position:
    """As `position_requirement` reads it; where the caller may see all, by SQL that is made once."""
    found = POSITION.first(tag) if current_scope().is_whole else None
    return found if found is not None else tagged_or_404(positions_with_requirements(), tag)


def options_of(query: dict[str, Any]) -> dict[str, Any]:
    return {
        "here_id": storeroom_id(query["storeroom"]),
        "at": query["at"] or timezone.now(),
        "wanted": wanted_of(query),
    }


class PositionSubstitutesView(StrictAPIView):
    """Every item that could serve at a position, and every look-alike that must not."""

    is_costly = True
    query_form = SubstitutesQuery

    @extend_schema(responses=SubstitutesSerializer)
    def get(self, request: Request, tag: str) -> Response:
        query = self.read_query()
        position = position_or_404(tag)
        options = options_of(query)
        return Response(answer_json(substitutes_for_position(position, **options), options["wanted"]))


class ItemSubstitutesView(StrictAPIView):
    """Every other item, judged part for part against this one."""

    is_costly = True
    query_form = SubstitutesQuery

    @extend_schema(responses=SubstitutesSerializer)
    def get(self, request: Request, key: str) -> Response:
        query = self.read_query()
        options = options_of(query)
        return Response(answer_json(substitutes_for_item(item_named(key), **options), options["wanted"]))


def item_named(key: str) -> Item:
    """By stock number, else by id; 404 where neither is there."""
    items = Item.objects.with_specification()
    item = items.filter(stock_number=key).first()
    if item is None and key.isascii() and key.isdigit() and len(key) < 18:
        item = items.filter(pk=int(key)).first()
    if item is None:
        raise Http404(f"There is no item {key!r}.")
    return item
