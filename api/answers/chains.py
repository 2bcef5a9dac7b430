"""The chains of the standards, and the tooth form of a sprocket for one of them."""

from dataclasses import asdict
from decimal import Decimal
from typing import Any

from django import forms
from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.edge.concurrency import etag_response
from api.edge.errors import core_refusals
from api.edge.filtering import NumberText, Range, TruthText, WordsText, read_query
from api.edge.pagination import KeysetPagination
from api.edge.viewsets import StrictAPIView
from api.wording.sentences import sentence
from inventory.standards.chains import (
    Chain,
    PlausibleError,
    TensileStrength,
    UnknownChain,
    chains,
    find_chain,
)
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS
from inventory.standards.tooth_form import ToothForm, tooth_form


class TensileStrengthSerializer(CoreAnswerSerializer):
    of = TensileStrength
    members = "strands value_kn edition source confidence"


class PlausibleErrorSerializer(CoreAnswerSerializer):
    of = PlausibleError
    members = "field error_mm kind source note"


class ChainSerializer(CoreAnswerSerializer):
    of = Chain
    members = (
        "designation asme_designation other_designations standard series base_chain pitch_mm roller_diameter_mm "
        "inner_width_mm pin_diameter_mm plate_height_mm transverse_pitch_mm is_double_pitch has_large_rollers "
        "tensile_strength_kn=tensile_strengths source confidence is_confirmed from_memory_fields plausible_errors note"
    )
    from_memory_fields = serializers.SerializerMethodField()

    def get_from_memory_fields(self, chain: Chain) -> list[str]:
        return sorted(chain.from_memory_fields)


class ChainQuery(forms.Form):
    q = forms.CharField(required=False, max_length=40)
    series = WordsText(required=False)
    pitch_mm = NumberText(span=Range(1, 200), required=False)
    is_double_pitch = TruthText(required=False)
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    cursor = forms.CharField(required=False)


class ChainListView(StrictAPIView):
    """Every designated chain, with source and confidence of its row."""

    is_list = True
    query_form = ChainQuery
    pagination_class = KeysetPagination

    @extend_schema(responses=ChainSerializer(many=True))
    def get(self, request: Request) -> Response:
        wanted = read_query(request, ChainQuery)
        pager = KeysetPagination()
        page = pager.paginate_queryset([chain for chain in chains() if _passes(chain, wanted)], request)
        return pager.get_paginated_response(ChainSerializer(page, many=True).data)


def _passes(chain: Chain, wanted: dict[str, Any]) -> bool:
    names = " ".join(
        filter(None, (chain.designation, chain.asme_designation, *chain.other_designations))
    ).lower()
    pitch = wanted["pitch_mm"]
    return (
        wanted["q"].lower() in names
        and (not wanted["series"] or chain.series in wanted["series"])
        and (pitch is None or abs(Decimal(str(chain.pitch_mm)) - pitch) < Decimal("0.01"))
        and (wanted["is_double_pitch"] is None or chain.is_double_pitch is wanted["is_double_pitch"])
    )


def chain_or_404(designation: str) -> Chain:
    try:
        return find_chain(designation)
    except UnknownChain as error:
        raise Http404(sentence(error.fact)) from error


class ChainView(StrictAPIView):
    """One chain by its ISO, ASME or other designation."""

    gives_etag = True

    @extend_schema(responses=ChainSerializer)
    def get(self, request: Request, designation: str) -> Any:
        return etag_response(request, ChainSerializer(chain_or_404(designation)).data)


class ToothFormSerializer(CoreAnswerSerializer):
    of = ToothForm
    members = (
        "chain teeth strands pitch_diameter_mm outside_diameter_mm outside_diameter_min_mm outside_diameter_max_mm "
        "root_diameter_mm caliper_diameter_mm tooth_width_mm width_over_strands_mm max_hub_diameter_mm "
        "max_hub_diameter_rule measuring_pin_diameter_mm over_pins_mm seat_diameter_min_mm seat_diameter_max_mm "
        "seating_angle_min_deg seating_angle_max_deg flank_radius_min_mm flank_radius_max_mm "
        "root_diameter_minus_tolerance_mm flange_thickness_asme_mm effective_teeth notes"
    )
    texts = {
        "outside_diameter_mm": "Turned form p(0.6 + cot(180°/z)), common practice.",
        "caliper_diameter_mm": "Over the bottoms, as a caliper reads it.",
        "max_hub_diameter_rule": "Which of the two published formulas was used.",
        "root_diameter_minus_tolerance_mm": "How far the root may lie below nominal; null where the limit is h11.",
        "flange_thickness_asme_mm": "Null without an inch inner width and for more than three strands.",
    }
    source = serializers.CharField()  # type: ignore[assignment]
    confidence = serializers.CharField()


class ToothFormQuery(forms.Form):
    teeth = NumberText(span=Range(*COUNTED_TEETH, whole=True), required=True)
    strands = NumberText(span=Range(*STRANDS, whole=True), required=False)
    single_cut = TruthText(required=False)


DECIMALS_MM = 4


def tooth_form_of(chain: Chain, teeth: int, strands: int, *, single_cut: bool = True) -> dict[str, Any]:
    """The tooth form with its chain's source and confidence, lengths rounded to 0.1 µm."""
    form = tooth_form(chain, teeth, strands, single_cut=single_cut)
    rounded = {
        name: round(value, DECIMALS_MM) if name.endswith(("_mm", "_deg")) and value is not None else value
        for name, value in asdict(form).items()
    }
    return {
        **rounded,
        "notes": form.notes,
        "source": f"formulas of ISO 606 and ASME B29.1; chain: {chain.source}",
        "confidence": chain.confidence,
    }


class ToothFormView(StrictAPIView):
    """Diameters and widths of a sprocket for one chain."""

    query_form = ToothFormQuery

    @extend_schema(responses=ToothFormSerializer)
    def get(self, request: Request, designation: str) -> Response:
        chain = chain_or_404(designation)
        wanted = self.read_query()
        single_cut = wanted["single_cut"] is not False
        with core_refusals():
            answer = tooth_form_of(
                chain, int(wanted["teeth"]), int(wanted["strands"] or 1), single_cut=single_cut
            )
        return Response(ToothFormSerializer(answer).data)
