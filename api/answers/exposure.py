"""Which positions stand without cover, the costliest first; and who else could need an item."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.calculated_answers import AsOfSerializer, CalculatedQuery, calculated, found_or_accepted
from api.answers.derived_members import CoreAnswerSerializer
from api.answers.exposure_lines import ExposureSums, PlantExposure, lines_of, risks_on, store_lines
from api.answers.frontier import RecordedWaitsSerializer, needs_for_caller, next_address
from api.answers.substitutes import tagged_or_404
from api.edge.errors import parameter_errors
from api.edge.filtering import NearMomentText, NumberText, Range, WordsText
from api.edge.parsing import MoneyField
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.operations.jobs.accepted import ACCEPTED
from api.operations.jobs.calculations import declare_calculation
from api.wire.facts import FactSerializer
from drives.demand.stored_needs import stored_needs
from drives.exposure.item_exposure import ItemExposure, OtherPosition, item_exposure
from drives.exposure.position_years import PositionYear, position_years
from drives.exposure.positions_at_risk import CoveringItem, PositionRisk, positions_at_risk
from drives.exposure.risk_inputs import StoreroomStock, load_item_risk, load_risk_inputs
from drives.models import Plant, Position
from inventory.facts import fact
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Item, RunState, StockingRun, Storeroom
from inventory.models.access_scope import current_scope
from inventory.planning.budget_frontier import downtime_by_drive
from inventory.planning.terms import load_terms
from inventory.progress import Progress, stretches, unreported
from inventory.stores.lead_times import emergency_hours, lead_times

DEFAULT_LIMIT = 50
A_DAY = timedelta(hours=26)
"""From one nightly run to the end of the next."""


class StoreroomStockSerializer(CoreAnswerSerializer):
    of = StoreroomStock
    members = "storeroom available minutes"
    texts = {
        "minutes": "From there to the storeroom of the position; null: not recorded, so it is not within reach."
    }


class CoveringItemSerializer(CoreAnswerSerializer):
    of = CoveringItem
    members = "item=stock_number grade available stock further_storerooms"
    texts = {
        "available": "Available pieces in all storerooms.",
        "stock": "The nearest storerooms.",
        "further_storerooms": "That have available pieces too.",
    }
    grade = serializers.ChoiceField(choices=[grade.value for grade in GRADE_RANK if grade is not Grade.UNFIT])


class PositionYearSerializer(CoreAnswerSerializer):
    """As the budget has it: over all positions it adds up to `today` of `stocking/frontier/`."""

    of = PositionYear
    members = (
        "downtime_hours_per_year downtime_cost_per_year cost_of_recorded_stops cost_without_stock recorded"
    )
    texts = {
        "cost_of_recorded_stops": "Of the cost, that of the stops on record; the rest is for those that may come first.",
        "cost_without_stock": "Of the cost, that of parts of which nothing is in stock or on order.",
    }
    downtime_cost_per_year, cost_of_recorded_stops = MoneyField(), MoneyField()
    cost_without_stock = MoneyField()
    recorded = RecordedWaitsSerializer(allow_null=True)


class PositionRiskSerializer(CoreAnswerSerializer):
    of = PositionRisk
    members = (
        "position=position.tag drive=position.drive plant=position.plant storeroom=position.storeroom "
        "criticality=position.criticality chance=chance.value chance_at_least=chance.at_least "
        "chance_of_demand=chance.of_demand lead_time_days lead_time_item hours_to_wait downtime_cost_per_hour expected_cost "
        "currency=position.currency year needs_transfer transfer_from=nearest.storeroom transfer_minutes=nearest.minutes "
        "covers further_covers reason"
    )
    texts = {
        "storeroom": "The one that serves the plant.",
        "chance": "That it needs a piece within the lead time and none is left for it; null: not known.",
        "chance_at_least": "Below `chance` only where bounds were calculated.",
        "chance_of_demand": "That it needs a piece within the lead time.",
        "lead_time_item": "The item that can be there soonest.",
        "hours_to_wait": "Of a stop without a piece, until an emergency delivery; where none is known, an ordinary one.",
        "year": "Its downtime a year for lack of parts, and what the record shows; null: neither is known.",
        "needs_transfer": "The available pieces are in another storeroom.",
        "transfer_from": "The nearest storeroom with an available piece; null: none is within reach.",
        "transfer_minutes": "A piece that is left serves after so many minutes; 0: it is here.",
        "covers": "What can serve it best, and where it is.",
        "further_covers": "Parts that can serve it too; all are at the substitutes of the position.",
    }
    downtime_cost_per_hour = serializers.DecimalField(
        source="position.downtime_cost_per_hour", max_digits=14, decimal_places=2, allow_null=True
    )
    expected_cost = serializers.DecimalField(
        max_digits=16, decimal_places=2, allow_null=True, help_text="Null: not known, which is not zero."
    )


class ExposureSerializer(AsOfSerializer):
    judged = serializers.IntegerField(help_text="How many positions were considered.")
    year_currency = serializers.CharField(help_text="Of all money in `year`: that of the stocking terms.")
    year = PositionYearSerializer(help_text="Of all positions that were considered.")
    notes = FactSerializer(many=True)
    next = serializers.URLField(allow_null=True, help_text="The next page of the results.")
    results = PositionRiskSerializer(many=True)


class ExposureQuery(CalculatedQuery):
    storeroom = forms.CharField(required=False, max_length=20)
    plant = forms.CharField(required=False, max_length=20)
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    after = NumberText(
        span=Range(0, 1e9, whole=True),
        required=False,
        help_text="The place in the list after which the page begins.",
    )
    at = NearMomentText(required=False)


def calculate_exposure(at: str = "", progress: Progress = unreported) -> PlantExposure:
    weighed, loaded, judged = stretches(progress, 2, 1, 5)
    moment = datetime.fromisoformat(at) if at else timezone.now()
    stored = stored_needs()
    as_of = stored.as_of or moment
    by_drive = downtime_by_drive(
        needs_for_caller(stored.needs),
        lead_times=lead_times(as_of),
        emergencies=emergency_hours(as_of),
        today=timezone.localdate(),
        storerooms=current_scope().storerooms,
        progress=weighed,
    )
    inputs = load_risk_inputs(moment, years=position_years(by_drive, stored.waits))
    loaded(1, 1)
    return PlantExposure(
        positions=tuple(positions_at_risk(inputs, judged)),
        is_cover_known=inputs.is_cover_known,
        demand=stored.as_fact(),
        currency=load_terms().currency,
    )


def since_last_run() -> datetime:
    """What a run calculated is shown until the next one; a day after it the answer is too old in any case."""
    done = StockingRun.objects.filter(state=RunState.DONE).order_by("-as_of").values_list("as_of", flat=True)
    longest = timezone.now() - A_DAY
    return max(done.first() or longest, longest)


EXPOSURE = declare_calculation(
    "exposure",
    ExposureSums,
    calculate_exposure,
    usual_seconds=7.0,
    address="exposure",
    without_lines=store_lines,
    valid_since=since_last_run,
)


def refuse_unknown_codes(query: Mapping[str, Any]) -> None:
    wrong = {
        name: fact("no_such_record", kind=name, name=code)
        for name, places in (("storeroom", Storeroom.objects), ("plant", Plant.objects))
        if (code := query[name]) and not visible_to_caller(places.filter(code=code)).exists()
    }
    if wrong:
        raise parameter_errors(wrong)


class ExposureView(StrictAPIView):
    """The chance of each position to need a piece within its lead time with none left for it."""

    is_list = True
    query_form = ExposureQuery

    @extend_schema(responses=calculated(ExposureSerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        query = self.read_query()
        refuse_unknown_codes(query)
        at = {"at": query["at"].isoformat()} if query["at"] else {}
        answer = found_or_accepted(request, EXPOSURE, at, calculated_after=query["calculated_after"])
        if isinstance(answer, Response):
            return answer
        chosen = {"storeroom": query["storeroom"], "plant": query["plant"]}
        sums, limit = answer.found.of(**chosen), int(query["limit"] or DEFAULT_LIMIT)
        lines = lines_of(answer.job, **chosen).filter(place__gt=int(query["after"] or 0))[: limit + 1]
        page = list(lines)[:limit]
        shown = {
            "judged": sums.count(),
            "year_currency": sums.currency,
            "year": sums.year,
            "notes": sums.notes,
            "next": next_address(request, page[-1].place) if len(lines) > limit else None,
            "results": risks_on(page),
        }
        return self.listed(ExposureSerializer(shown, context={"as_of": answer.as_of}))


class OtherPositionSerializer(CoreAnswerSerializer):
    of = OtherPosition
    members = "position=position.tag drive=position.drive criticality=position.criticality chance has_other"
    texts = {
        "chance": "That it needs a piece before the next receipt; null: not known.",
        "has_other": "Another item that serves it is available somewhere.",
    }


class ItemExposureSerializer(CoreAnswerSerializer):
    of = ItemExposure
    members = "item chance chance_at_least not_known lead_time_days positions is_last_piece"
    texts = {
        "chance": "That any of them needs a piece before the next receipt; null: that of one or more is not known.",
        "chance_at_least": "That any of those needs a piece whose chance is known; null: no chance is known.",
        "not_known": "Positions whose chance is not known.",
        "positions": "Other positions that it serves, the worst first.",
    }
    item = serializers.CharField()


class PositionExposureSerializer(serializers.Serializer[Any]):
    as_of = serializers.DateTimeField(
        allow_null=True,
        help_text="The demand of the positions was calculated then; stock and deliveries are those of now. Null: not yet.",
    )
    notes = FactSerializer(many=True, help_text="Why an item is missing in the results, or a chance.")
    results = ItemExposureSerializer(many=True, help_text="The available items, in the order of the query.")


class PositionExposureQuery(forms.Form):
    item = WordsText()
    at = NearMomentText(required=False)


class PositionExposureView(StrictAPIView):
    """Who else could need these items before the next receipt, if one of them is taken for this position."""

    is_costly = True
    query_form = PositionExposureQuery

    @extend_schema(responses=PositionExposureSerializer)
    def get(self, request: Request, tag: str) -> Response:
        query = self.read_query()
        position = tagged_or_404(Position.objects.only("pk"), tag)
        items = item_ids(query["item"])
        inputs = load_item_risk(query["at"] or timezone.now(), items.values(), position.pk)
        found = {number: item_exposure(inputs, pk, position.pk) for number, pk in items.items()}
        results = [
            {"item": number, "chance": one.chance, "not_known": one.not_known, **vars(one)}
            for number, one in found.items()
            if one
        ]
        missing = [fact("no_piece_available", item=number) for number, one in found.items() if one is None]
        later = frozenset().union(*(one.later for one in found.values() if one))
        if later:
            missing.append(fact("chances_not_calculated_yet", positions=len(later)))
        if not inputs.is_cover_known:
            results, missing = [], [fact("cover_not_calculated")]
        shown = {"as_of": inputs.demands_as_of, "notes": missing, "results": results}
        return Response(PositionExposureSerializer(shown).data)


def item_ids(stock_numbers: Iterable[str]) -> dict[str, int]:
    """By stock number, in the order given; each must be known."""
    known = dict(Item.objects.filter(stock_number__in=stock_numbers).values_list("stock_number", "pk"))
    for number in stock_numbers:
        if number not in known:
            raise parameter_errors({"item": fact("no_such_record", kind="item", name=number)})
    return {number: known[number] for number in stock_numbers}
