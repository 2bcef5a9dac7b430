"""Which few items could serve what many serve today; what nothing asks for, and what nothing serves."""

from collections.abc import Callable, Sequence
from typing import Any

from django import forms
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.calculated_answers import AsOfSerializer, CalculatedQuery, calculated, found_or_accepted
from api.answers.derived_members import CoreAnswerSerializer
from api.answers.exposure import since_last_run
from api.answers.frontier import next_address
from api.edge.filtering import NumberText, Range
from api.edge.parsing import MoneyField
from api.edge.viewsets import StrictAPIView
from api.operations.jobs.accepted import ACCEPTED
from api.operations.jobs.calculations import declare_calculation
from drives.assortment.orphans import Donor, Hole, Orphan, OrphanAdvice, OrphansAndHoles, orphans_and_holes
from drives.assortment.variety import Variety, VarietyGroup, VarietyItem, variety
from drives.demand.cover import GRADES_KEPT
from inventory.planning.terms import load_terms
from inventory.progress import Progress, unreported

DEFAULT_LIMIT = 50
MOST_MINUTES = 100_000


class VarietyItemSerializer(CoreAnswerSerializer):
    of = VarietyItem
    members = "item=stock_number description bore_type unit_cost pieces level_today level_after is_new"
    texts = {
        "pieces": "Available now in the storerooms in scope.",
        "level_today": "Pieces for the demand of a lead time, at least one in each storeroom whose positions it serves first.",
        "is_new": "No storeroom holds it today.",
    }
    unit_cost = MoneyField()


class VarietyGroupSerializer(CoreAnswerSerializer):
    """Keep these items instead of those."""

    of = VarietyGroup
    members = (
        "keep leave positions tags worst_grade most_minutes lead_time_not_known value_today value_after saving_per_year "
        "value_on_hand"
    )
    texts = {
        "positions": "That another item serves afterwards, in all plants.",
        "tags": "The first of those in scope.",
        "most_minutes": "Of work on one piece before it is fitted; null: not known for one of them.",
        "lead_time_not_known": "Items without a lead time: their level is one piece in each storeroom.",
        "value_today": "Levels of all these items at their unit costs.",
        "value_on_hand": "Of the available pieces of those that leave.",
    }
    worst_grade = serializers.ChoiceField(choices=[grade.value for grade in GRADES_KEPT])
    value_today, value_after, saving_per_year = MoneyField(), MoneyField(), MoneyField()
    value_on_hand = MoneyField()


class VarietySerializer(CoreAnswerSerializer, AsOfSerializer):
    of = Variety
    members = (
        "currency positions weighed kept_anyway leave cost_today cost lower_bound gap holding_rate_per_year service "
        "saving_per_year is_cover_known count further_groups"
    )
    texts = {
        "positions": "In use, and served by an item that is held.",
        "kept_anyway": "Without a price in the currency of the terms, or held as insurance or for a project.",
        "cost": "To hold one piece of each item of the cover for a year.",
        "lower_bound": "No cover of these positions costs less.",
        "gap": "(cost - lower_bound) / cost; 0: there is none cheaper.",
        "further_groups": "That save less, and are not listed.",
    }
    saving_per_year = MoneyField()
    next = serializers.URLField(allow_null=True, help_text="The next page of the results.")
    results = VarietyGroupSerializer(many=True)


class VarietyQuery(CalculatedQuery):
    worst_grade = forms.ChoiceField(
        required=False,
        choices=[(grade.value, grade.value) for grade in GRADES_KEPT],
        help_text="Of what serves a position afterwards; left out: that of the stocking terms.",
    )
    most_minutes = NumberText(
        span=Range(0, MOST_MINUTES, whole=True),
        required=False,
        help_text="Of work on one piece; items whose minutes are not known then serve nothing new.",
    )


class VarietyListQuery(VarietyQuery):
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    after = NumberText(
        span=Range(0, 1e9, whole=True),
        required=False,
        help_text="The place in the list after which the page begins.",
    )


def calculate_variety(worst_grade: str, most_minutes: str = "", progress: Progress = unreported) -> Variety:
    most = int(most_minutes) if most_minutes else None
    return variety(
        timezone.now(),
        timezone.localdate(),
        worst_grade=worst_grade,
        most_minutes=most,
        progress=progress,
    )


def variety_parameters(worst_grade: str, most_minutes: Any) -> dict[str, str]:
    """The same limits have one answer, whether they are named or left out."""
    grade = {"worst_grade": worst_grade or load_terms().worst_grade}
    return grade if most_minutes is None else {**grade, "most_minutes": str(int(most_minutes))}


VARIETY = declare_calculation(
    "variety",
    Variety,
    calculate_variety,
    usual_seconds=3.0,
    address="assortment-variety",
    valid_since=since_last_run,
)


class VarietyView(StrictAPIView):
    """The set of items that serves every position served today and costs least to hold, with a bound on the best; the greatest saving first."""

    is_list = True
    query_form = VarietyListQuery

    @extend_schema(responses=calculated(VarietySerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        query = self.read_query()
        parameters = variety_parameters(query["worst_grade"], query["most_minutes"])
        answer = found_or_accepted(request, VARIETY, parameters, calculated_after=query["calculated_after"])
        if isinstance(answer, Response):
            return answer
        groups, after = answer.found.groups, int(query["after"] or 0)
        end = after + int(query["limit"] or DEFAULT_LIMIT)
        shown = {
            **vars(answer.found),
            "count": answer.found.count,
            "next": next_address(request, end) if end < len(groups) else None,
            "results": groups[after:end],
        }
        return self.listed(VarietySerializer(shown, context={"as_of": answer.as_of}))


class OrphanSerializer(CoreAnswerSerializer):
    of = Orphan
    members = "item=stock_number description storeroom pieces value currency last_issued_on advice positions_elsewhere positions"
    texts = {
        "pieces": "Available.",
        "value": "Null: the item has no price.",
        "positions_elsewhere": "In use and served by it, in plants of other storerooms.",
        "positions": "Vital ones for which nothing else lies on any shelf: then it is kept.",
    }
    value = MoneyField(allow_null=True)
    advice = serializers.ChoiceField(choices=[one.value for one in OrphanAdvice])


class DonorSerializer(CoreAnswerSerializer):
    """Taking this unit leaves its drive without: stop and lock that machine first, and tell who relies on it."""

    of = Donor
    members = "position drive item grade is_standby"


class HoleSerializer(CoreAnswerSerializer):
    of = Hole
    members = "position criticality in_catalogue donors"
    texts = {
        "in_catalogue": "Items that serve it and lie on no shelf.",
        "donors": "Fitted units of standby machines or of drives out of use: the last resort, never from or for a lifting drive.",
    }
    donors = DonorSerializer(many=True)


class AssortmentListSerializer(AsOfSerializer):
    is_cover_known = serializers.BooleanField()
    count = serializers.IntegerField(help_text="Of all; the first 500 are listed.")
    next = serializers.URLField(allow_null=True, help_text="The next page of the results.")


class OrphansSerializer(AssortmentListSerializer):
    currency = serializers.CharField()
    value = MoneyField(help_text="Of those to offer or run down, in this currency.")
    results = OrphanSerializer(many=True)


class InsuranceSerializer(AssortmentListSerializer):
    results = OrphanSerializer(many=True)


class HolesSerializer(AssortmentListSerializer):
    results = HoleSerializer(many=True)


class AssortmentListQuery(CalculatedQuery):
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    after = NumberText(
        span=Range(0, 1e9, whole=True),
        required=False,
        help_text="The place in the list after which the page begins.",
    )


def calculate_orphans(progress: Progress = unreported) -> OrphansAndHoles:
    return orphans_and_holes(timezone.localdate(), currency=load_terms().currency, progress=progress)


ORPHANS = declare_calculation(
    "orphans",
    OrphansAndHoles,
    calculate_orphans,
    usual_seconds=3.0,
    address="assortment-orphans",
)


class AssortmentListView(StrictAPIView):
    is_list = True
    query_form = AssortmentListQuery

    def page(
        self, request: Request, shown: Callable[[OrphansAndHoles], tuple[Sequence[Any], dict[str, Any]]]
    ) -> dict[str, Any] | Response:
        query = self.read_query()
        answer = found_or_accepted(request, ORPHANS, {}, calculated_after=query["calculated_after"])
        if isinstance(answer, Response):
            return answer
        lines, members = shown(answer.found)
        after = int(query["after"] or 0)
        end = after + int(query["limit"] or DEFAULT_LIMIT)
        following = next_address(request, end) if end < len(lines) else None
        found = {
            "is_cover_known": answer.found.is_cover_known,
            "next": following,
            "results": lines[after:end],
        }
        return {**members, **found, "as_of": answer.as_of}


class OrphansView(AssortmentListView):
    """Pieces that no position of the plants of their storeroom asks for, even after work, by value."""

    @extend_schema(responses=calculated(OrphansSerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        page = self.page(
            request,
            lambda found: (
                found.orphans,
                {"count": found.orphan_count, "value": found.orphan_value, "currency": found.currency},
            ),
        )
        if isinstance(page, Response):
            return page
        return self.listed(OrphansSerializer(page, context={"as_of": page["as_of"]}))


class InsuranceView(AssortmentListView):
    """Items not issued for two years that are kept: nothing else on any shelf serves a vital position."""

    @extend_schema(responses=calculated(InsuranceSerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        page = self.page(request, lambda found: (found.insurance, {"count": found.insurance_count}))
        if isinstance(page, Response):
            return page
        return self.listed(InsuranceSerializer(page, context={"as_of": page["as_of"]}))


class HolesView(AssortmentListView):
    """Positions in use that nothing on any shelf serves, with units fitted elsewhere as a last resort."""

    @extend_schema(responses=calculated(HolesSerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        page = self.page(request, lambda found: (found.holes, {"count": found.hole_count}))
        if isinstance(page, Response):
            return page
        return self.listed(HolesSerializer(page, context={"as_of": page["as_of"]}))
