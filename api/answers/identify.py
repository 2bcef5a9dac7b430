"""An unknown sprocket by its readings: candidates with probabilities, what decides, what lies on the shelves and what uses it."""

from collections.abc import Sequence
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.core_input import CoreInputSerializer, core_object
from api.answers.derived_members import CoreAnswerSerializer
from api.edge.errors import core_refusals
from api.edge.parsing import StrictBooleanField
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from drives.substitutes.rim_places import (
    MOST_COUNTED_DRIVES,
    RimPosition,
    RimPositions,
    chain_drives,
    chain_drives_question,
    rim_positions,
    rim_positions_questions,
)
from inventory.catalogue.rim_stock import (
    RimShelf,
    StockedRim,
    StockedRims,
    WantedRim,
    rim_stock_questions,
    stocked_rims,
)
from inventory.identification.expected_sizes import ExpectedSize
from inventory.identification.identify import (
    Identification,
    PitchShare,
    ProposedMeasurement,
    RimCandidate,
    TeethShare,
    identify,
    likely_chains,
)
from inventory.identification.readings import Readings
from inventory.models import StockLevel
from inventory.plumbing.joint_statement import Parameters, Question, answers

READING_DECIMALS = 3
MOST_LOOKED_FOR, LEAST_LOOKED_FOR = 4, 0.05
"""Candidates for which shelves and positions are searched."""

MOST_CHAINS_COUNTED = 24
MOST_ITEMS, MOST_POSITIONS = 20, 20


class ReadingsSerializer(CoreInputSerializer):
    of = Readings
    members = (
        "teeth outside_diameter_mm caliper_diameter_mm tooth_width_mm overall_width_mm strands bore_mm "
        "keyway_width_mm hub_diameter_mm chord_mm chord_gaps worn"
    )


class IdentifyBodySerializer(ReadingsSerializer):
    plant_prior = StrictBooleanField(
        required=False,
        default=True,
        help_text="Whether chains that the visible drives run are more probable; false: no chain is preferred.",
    )


class SizeSerializer(CoreAnswerSerializer):
    """Lengths in thousandths of a millimetre: no caliper shows more."""

    def to_representation(self, instance: Any) -> dict[str, Any]:
        found = super().to_representation(instance)
        return {
            name: round(value, READING_DECIMALS) if isinstance(value, float) else value
            for name, value in found.items()
        }


class ExpectedSizeSerializer(SizeSerializer):
    of = ExpectedSize
    members = "size_mm least_mm most_mm"
    texts = {"size_mm": "As tables print it.", "least_mm": "Of a new part."}


class RimCandidateSerializer(CoreAnswerSerializer):
    of = RimCandidate
    members = "chain=rim.name same_rim strands=rim.strands single_cut teeth probability residuals expected tell_apart"
    texts = {
        "teeth": "The likeliest count.",
        "tell_apart": "What separates it from the likeliest other candidate; null where it is hardly likely.",
    }
    same_rim = serializers.SerializerMethodField(
        help_text="Other chains that run on the very same teeth, so that no measurement tells them apart."
    )
    single_cut = serializers.SerializerMethodField(
        help_text="Of double-pitch chain with standard rollers: false with a gap at every half pitch. Null: does not apply."
    )
    residuals = serializers.SerializerMethodField(
        help_text="Each reading less the size that tables print, in mm."
    )
    expected = serializers.SerializerMethodField(help_text="For each reading the size of a new part.")

    def get_same_rim(self, candidate: RimCandidate) -> list[str]:
        return [name for name in candidate.rim.designations if name != candidate.rim.name]

    def get_single_cut(self, candidate: RimCandidate) -> bool | None:
        chain = candidate.rim.chain
        applies = chain.is_double_pitch and not chain.has_large_rollers
        return candidate.rim.single_cut if applies else None

    @extend_schema_field(serializers.DictField(child=serializers.FloatField()))
    def get_residuals(self, candidate: RimCandidate) -> dict[str, float]:
        return {one.measurement: round(one.apart_mm, READING_DECIMALS) for one in candidate.fits}

    @extend_schema_field(serializers.DictField(child=ExpectedSizeSerializer()))
    def get_expected(self, candidate: RimCandidate) -> dict[str, Any]:
        return {one.measurement: ExpectedSizeSerializer(one.expected).data for one in candidate.fits}


class PitchShareSerializer(CoreAnswerSerializer):
    of = PitchShare
    members = "pitch_mm probability"


class TeethShareSerializer(CoreAnswerSerializer):
    of = TeethShare
    members = "teeth probability"


class ProposedMeasurementSerializer(CoreAnswerSerializer):
    of = ProposedMeasurement
    members = "measurement information_bits reason"
    texts = {
        "information_bits": "By how much it is expected to reduce the uncertainty about the rim; 1 halves it."
    }


class RimShelfSerializer(CoreAnswerSerializer):
    of = RimShelf
    members = "storeroom bin condition available"


class StockedRimSerializer(CoreAnswerSerializer):
    of = StockedRim
    members = (
        "candidate stock_number description lifecycle chain teeth strands bore_type bore_mm keyway_width_mm "
        "hub_diameter_mm bore_match available stock=shelves"
    )
    texts = {
        "candidate": "Its place in `candidates`, from 0.",
        "bore_match": "Against the bore that was measured.",
    }


class RimPositionSerializer(CoreAnswerSerializer):
    of = RimPosition
    members = "candidate tag drive drive_name role chain"
    texts = {"candidate": "Its place in `candidates`, from 0."}


class PriorSerializer(serializers.Serializer[Any]):
    plant_prior = serializers.BooleanField()
    drives_counted = serializers.IntegerField(
        help_text=f"Drives on the likely chains, {MOST_COUNTED_DRIVES} at most of each."
    )


class IdentifyAnswerSerializer(serializers.Serializer[Any]):
    candidates = RimCandidateSerializer(many=True)
    unknown = serializers.FloatField(
        help_text="The share of no listed candidate; with the probabilities it adds up to 1."
    )
    pitches = PitchShareSerializer(many=True)
    teeth = TeethShareSerializer(many=True)
    measure_next = ProposedMeasurementSerializer(
        many=True, help_text="What would decide best, by expected information; empty where nothing would."
    )
    not_told_apart = serializers.ListField(
        child=serializers.ListField(child=serializers.IntegerField()),
        help_text="Groups of candidates, by their place, that no measurement left to take tells apart.",
    )
    notes = FactSerializer(many=True)
    prior = PriorSerializer()
    items = StockedRimSerializer(
        many=True,
        help_text=f"Free pieces with the teeth of the likeliest candidates, at most {MOST_ITEMS} items.",
    )
    items_found = serializers.IntegerField()
    more_items = serializers.BooleanField(help_text="Not every shelf was looked at.")
    positions = RimPositionSerializer(
        many=True, help_text=f"Positions in use with these teeth and chains, at most {MOST_POSITIONS}."
    )
    positions_found = serializers.IntegerField()
    more_positions = serializers.BooleanField(help_text="There may be more than were counted.")


def plant_counts(readings: Readings) -> dict[tuple[str, int], int]:
    """Drives in sight on the chains that the readings leave possible; one query."""
    put = Parameters()
    names = likely_chains(readings)[:MOST_CHAINS_COUNTED]
    return (
        chain_drives(answers(StockLevel, put, {name: chain_drives_question(name, put) for name in names}))
        if names
        else {}
    )


def wanted_rims(candidates: Sequence[RimCandidate]) -> list[WantedRim]:
    return [
        WantedRim(place, one.rim, one.teeth)
        for place, one in enumerate(candidates[:MOST_LOOKED_FOR])
        if one.probability >= LEAST_LOOKED_FOR
    ]


def on_shelves_and_drives(
    candidates: Sequence[RimCandidate], *, bore_mm: float | None
) -> tuple[StockedRims, RimPositions]:
    """What lies free with the teeth of the likely candidates, and where they are used; one query."""
    put, wanted = Parameters(), wanted_rims(candidates)
    today = timezone.localdate()
    questions: dict[str, Question] = {}
    for one in wanted:
        place = one.place
        questions[f"stock{place}"], questions[f"parts{place}"] = rim_stock_questions(one, put)
        asked = rim_positions_questions(one, put, today=today)
        questions[f"places{place}"], questions[f"drives{place}"] = asked
    found = answers(StockLevel, put, questions) if questions else {}
    stock = stocked_rims(
        ((one, found[f"stock{one.place}"], found[f"parts{one.place}"]) for one in wanted),
        bore_mm=bore_mm,
        most=MOST_ITEMS,
    )
    places = rim_positions(
        ((one, found[f"places{one.place}"], found[f"drives{one.place}"]) for one in wanted),
        most=MOST_POSITIONS,
    )
    return stock, places


def identify_answer(readings: Readings, *, plant_prior: bool) -> dict[str, Any]:
    counts = plant_counts(readings) if plant_prior else {}
    found: Identification = identify(readings, counts)
    stock, places = on_shelves_and_drives(found.candidates, bore_mm=readings.bore_mm)
    return {
        "candidates": found.candidates,
        "unknown": found.unknown,
        "pitches": found.pitches,
        "teeth": found.teeth,
        "measure_next": found.measure_next,
        "not_told_apart": found.alike,
        "notes": found.notes,
        "prior": {"plant_prior": plant_prior, "drives_counted": sum(counts.values())},
        "items": stock.items,
        "items_found": stock.counted,
        "more_items": stock.has_more,
        "positions": places.positions,
        "positions_found": places.counted,
        "more_positions": places.has_more,
    }


class IdentifyView(StrictAPIView):
    """Nothing is stored. What a rim may be, with its probability, and which measurement decides next."""

    @extend_schema(request=IdentifyBodySerializer, responses=IdentifyAnswerSerializer)
    def post(self, request: Request) -> Response:
        body = self.read(IdentifyBodySerializer, request)
        plant_prior = body.pop("plant_prior")
        with core_refusals():
            answer = identify_answer(core_object(Readings, body), plant_prior=plant_prior)
        return Response(IdentifyAnswerSerializer(answer).data)
