"""Attributes as they come over the wire: of a sprocket, of a place, of a duty. Each bad member is named."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from rest_framework import serializers

from api.answers.core_input import LIMITS, LONGEST_TEXT, Core, CoreInputSerializer, core_object
from api.edge.errors import detail_of
from api.edge.parsing import LengthField, StrictCharField, StrictChoiceField, StrictFloatField
from drives.place.duty import Duty
from inventory.interchange.requirement import Engagement, Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import Environment
from inventory.standards.chains import Chain, UnknownChain, find_chain

OWN_DIMENSIONS = ("pitch_mm", "roller_diameter_mm", "inner_width_mm")
DIMENSIONS = (*OWN_DIMENSIONS, "transverse_pitch_mm")


def chain_named(designation: str) -> Chain:
    try:
        return find_chain(designation)
    except UnknownChain as error:
        raise serializers.ValidationError(detail_of(error.fact)) from error


def optional_length(name: str) -> LengthField:
    low, high = LIMITS[name]
    return LengthField(min_mm=low, max_mm=high, required=False, allow_null=True)


class EngagementMixin(CoreInputSerializer):
    """`chain` by designation, or the dimensions of a chain outside any standard."""

    chain = StrictCharField(max_length=LONGEST_TEXT["chain"], required=False, allow_null=True)
    pitch_mm = optional_length("pitch_mm")
    roller_diameter_mm = optional_length("roller_diameter_mm")
    inner_width_mm = optional_length("inner_width_mm")
    transverse_pitch_mm = optional_length("transverse_pitch_mm")

    def validate_chain(self, value: str | None) -> Chain | None:
        return None if value is None else chain_named(value)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        given = [name for name in DIMENSIONS if attrs.get(name) is not None]
        if attrs.get("chain") is not None and given:
            raise serializers.ValidationError(
                {name: ["Leave this out: the chain is named."] for name in given}
            )
        missing = [name for name in OWN_DIMENSIONS if attrs.get(name) is None]
        if given and missing:
            raise serializers.ValidationError(
                {name: ["A chain without a name needs pitch, roller and inner width."] for name in missing}
            )
        return attrs


def engagement_of(body: Mapping[str, Any]) -> Engagement | None:
    if body.get("chain") is not None:
        return Engagement.of(body["chain"])
    if body.get("pitch_mm") is None:
        return None
    return core_object(Engagement, {name: body.get(name) for name in DIMENSIONS})


class SprocketSerializer(EngagementMixin):
    """A sprocket by its generic attributes."""

    of = Sprocket
    members = " ".join(one.name for one in fields(Sprocket) if one.name != "chain")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs = super().validate(attrs)
        bore, most = attrs.get("bore_mm"), attrs.get("max_bore_mm")
        if bore is not None and most is not None and most < bore:
            raise serializers.ValidationError(
                {"max_bore_mm": ["This is smaller than bore_mm: which of the two is right?"]}
            )
        return attrs


def specification_of(body: Mapping[str, Any]) -> Sprocket:
    return with_engagement(Sprocket, body)


def with_engagement(of: type[Core], body: Mapping[str, Any], **objects: Any) -> Core:
    """The chain is one object in the cores, and one or several members of a body."""
    own = {name: value for name, value in body.items() if name not in ("chain", *DIMENSIONS)}
    return core_object(of, {**own, **objects, "chain": engagement_of(body)})


class ShaftSerializer(CoreInputSerializer):
    of = Shaft
    members = (
        "kind diameter_mm key_width_mm key_height_mm keyway_depth_mm key_standard across_flats_mm bush_size"
    )


class EnvelopeSerializer(CoreInputSerializer):
    """`outside_diameter_mm` is the room for the wheel with its chain on; where `is_measured` is false, the bare old wheel."""

    of = Envelope
    members = "outside_diameter_mm hub_diameter_mm length_through_bore_mm is_measured"


class DutySerializer(CoreInputSerializer):
    """`speed_rpm` is the speed of the driver, whichever sprocket is asked about."""

    of = Duty
    members = (
        "power_kw speed_rpm lifting service_factor mating_teeth centre_distance_mm fixed_centres "
        "ratio_tolerance_percent links elongation_percent"
    )
    centre_adjustment_mm = serializers.ListField(
        child=StrictFloatField(min_value=-5_000, max_value=5_000),
        min_length=2,
        max_length=2,
        required=False,
        allow_null=True,
    )

    def validate_centre_adjustment_mm(self, value: list[float] | None) -> tuple[float, float] | None:
        if value is None:
            return None
        if not value[0] <= 0 <= value[1]:
            raise serializers.ValidationError(
                "Two numbers: how far the shafts can close (0 or below) and how far they can part (0 or above)."
            )
        return value[0], value[1]


class RequirementSerializer(EngagementMixin):
    """What a place asks for; what is left out is not checked, and the verdict says so."""

    of = Requirement
    members = (
        "strands teeth role minimum_teeth single_cut hub_style material material_grade hardened_teeth "
        "food_contact_required non_sparking_required"
    )
    shaft = ShaftSerializer(required=False, allow_null=True)
    environment = serializers.ListField(
        child=StrictChoiceField(choices=[word.value for word in Environment]), required=False
    )
    envelope = EnvelopeSerializer(required=False, allow_null=True)
    duty = DutySerializer(required=False, allow_null=True)


def requirement_of(body: Mapping[str, Any]) -> Requirement:
    shaft = body.get("shaft")
    return with_engagement(
        Requirement,
        {name: value for name, value in body.items() if name != "duty"},
        shaft=None if shaft is None else core_object(Shaft, shaft),
        environment=frozenset(Environment(word) for word in body.get("environment") or ()),
        envelope=core_object(Envelope, body.get("envelope") or {}),
    )


def duty_of(body: Mapping[str, Any]) -> Duty:
    return core_object(Duty, body.get("duty") or {})
