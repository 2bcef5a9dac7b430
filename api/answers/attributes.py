"""Attributes as they come over the wire: of a sprocket, of a place, of a duty. Each bad member is named."""

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from api.edge.parsing import (
    LengthField,
    StrictBooleanField,
    StrictCharField,
    StrictChoiceField,
    StrictFloatField,
    StrictIntegerField,
    StrictSerializer,
)
from drives.place.duty import Duty
from inventory.interchange.requirement import Engagement, Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import (
    BoreType,
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    RoleKind,
    ShaftKind,
)
from inventory.standards.chains import Chain, UnknownChain, find_chain
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS

OWN_DIMENSIONS = ("pitch_mm", "roller_diameter_mm", "inner_width_mm")


def optional_length(low: float, high: float) -> LengthField:
    return LengthField(min_mm=low, max_mm=high, required=False, allow_null=True)


def optional_word(words: Any) -> StrictChoiceField:
    return StrictChoiceField(choices=[word.value for word in words], required=False, allow_null=True)


def optional_truth() -> StrictBooleanField:
    return StrictBooleanField(required=False, allow_null=True)


def optional_count(low: int, high: int) -> StrictIntegerField:
    return StrictIntegerField(min_value=low, max_value=high, required=False, allow_null=True)


def optional_number(low: float, high: float) -> StrictFloatField:
    return StrictFloatField(min_value=low, max_value=high, required=False, allow_null=True)


def chain_named(designation: str) -> Chain:
    try:
        return find_chain(designation)
    except UnknownChain as error:
        raise serializers.ValidationError(str(error)) from error


class EngagementMixin(StrictSerializer):
    """`chain` by designation, or the dimensions of a chain outside any standard."""

    chain = StrictCharField(max_length=12, required=False, allow_null=True)
    pitch_mm = optional_length(4, 200)
    roller_diameter_mm = optional_length(2, 150)
    inner_width_mm = optional_length(1.5, 150)
    transverse_pitch_mm = optional_length(4, 300)
    strands = optional_count(*STRANDS)
    teeth = optional_count(*COUNTED_TEETH)

    def validate_chain(self, value: str | None) -> Chain | None:
        return None if value is None else chain_named(value)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        given = [name for name in (*OWN_DIMENSIONS, "transverse_pitch_mm") if attrs.get(name) is not None]
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


def engagement_of(body: dict[str, Any]) -> Engagement | None:
    if body.get("chain") is not None:
        return Engagement.of(body["chain"])
    if body.get("pitch_mm") is None:
        return None
    return Engagement(
        pitch_mm=float(body["pitch_mm"]),
        roller_diameter_mm=float(body["roller_diameter_mm"]),
        inner_width_mm=float(body["inner_width_mm"]),
        transverse_pitch_mm=plain(body.get("transverse_pitch_mm")),
    )


def plain(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


class SprocketSerializer(EngagementMixin):
    """A sprocket by its generic attributes."""

    role_kind = optional_word(RoleKind)
    hub_style = optional_word(HubStyle)
    bore_type = optional_word(BoreType)
    bore_mm = optional_length(4, 600)
    max_bore_mm = optional_length(4, 600)
    keyway_width_mm = optional_length(1.5, 110)
    keyway_depth_mm = optional_length(0.5, 60)
    key_standard = optional_word(KeyStandard)
    set_screws = optional_count(0, 8)
    bush_size = StrictCharField(max_length=6, required=False, allow_null=True)
    hex_across_flats_mm = optional_length(4, 300)
    hub_diameter_mm = optional_length(8, 1_500)
    hub_diameter_2_mm = optional_length(8, 1_500)
    length_through_bore_mm = optional_length(3, 1_000)
    outside_diameter_mm = optional_length(12, 10_000)
    tooth_width_mm = optional_length(1.5, 150)
    material = optional_word(Material)
    material_grade = StrictCharField(max_length=30, required=False, allow_null=True)
    hardened_teeth = optional_truth()
    food_contact = optional_truth()
    non_sparking = optional_truth()
    single_cut = optional_truth()
    mass_kg = optional_number(0.001, 20_000)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs = super().validate(attrs)
        bore, most = attrs.get("bore_mm"), attrs.get("max_bore_mm")
        if bore is not None and most is not None and most < bore:
            raise serializers.ValidationError(
                {"max_bore_mm": ["This is smaller than bore_mm: which of the two is right?"]}
            )
        return attrs


WORDS: dict[str, Any] = {
    "role_kind": RoleKind,
    "hub_style": HubStyle,
    "bore_type": BoreType,
    "key_standard": KeyStandard,
    "material": Material,
}
ENGAGEMENT_MEMBERS = frozenset({"chain", *OWN_DIMENSIONS, "transverse_pitch_mm"})


def specification_of(body: dict[str, Any]) -> Sprocket:
    own = {name: plain(value) for name, value in body.items() if name not in ENGAGEMENT_MEMBERS}
    words = {name: WORDS[name](own[name]) for name in WORDS if own.get(name)}
    return Sprocket(**{**own, **words, "chain": engagement_of(body)})


class ShaftSerializer(StrictSerializer):
    kind = StrictChoiceField(choices=[kind.value for kind in ShaftKind])
    diameter_mm = optional_length(4, 600)
    key_width_mm = optional_length(1.5, 110)
    key_height_mm = optional_length(1.5, 60)
    keyway_depth_mm = optional_length(0.5, 60)
    key_standard = optional_word(KeyStandard)
    across_flats_mm = optional_length(4, 300)
    bush_size = StrictCharField(max_length=6, required=False, allow_null=True)


class EnvelopeSerializer(StrictSerializer):
    outside_diameter_mm = optional_length(12, 10_000)
    hub_diameter_mm = optional_length(8, 1_500)
    length_through_bore_mm = optional_length(3, 1_000)
    is_measured = StrictBooleanField(required=False)


class DutySerializer(StrictSerializer):
    """`speed_rpm` is the speed of the driver, whichever sprocket is asked about."""

    power_kw = optional_number(0.0001, 10_000)
    speed_rpm = optional_number(0.001, 20_000)
    lifting = optional_truth()
    service_factor = optional_number(0.5, 5)
    mating_teeth = optional_count(*COUNTED_TEETH)
    centre_distance_mm = optional_length(40, 50_000)
    centre_adjustment_mm = serializers.ListField(
        child=StrictFloatField(min_value=-5_000, max_value=5_000),
        min_length=2,
        max_length=2,
        required=False,
        allow_null=True,
    )
    fixed_centres = optional_truth()
    ratio_tolerance_percent = optional_number(0, 100)
    links = optional_count(6, 20_000)
    elongation_percent = optional_number(-1, 20)

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

    role = optional_word(PositionRole)
    minimum_teeth = optional_count(*COUNTED_TEETH)
    single_cut = optional_truth()
    shaft = ShaftSerializer(required=False, allow_null=True)
    hub_style = optional_word(HubStyle)
    material = optional_word(Material)
    material_grade = StrictCharField(max_length=30, required=False, allow_null=True)
    hardened_teeth = optional_truth()
    environment = serializers.ListField(
        child=StrictChoiceField(choices=[word.value for word in Environment]), required=False
    )
    envelope = EnvelopeSerializer(required=False, allow_null=True)
    food_contact_required = StrictBooleanField(required=False)
    non_sparking_required = StrictBooleanField(required=False)
    duty = DutySerializer(required=False, allow_null=True)


def shaft_of(body: dict[str, Any] | None) -> Shaft | None:
    if body is None:
        return None
    own = {name: plain(value) for name, value in body.items()}
    standard = own.get("key_standard")
    return Shaft(
        **{**own, "kind": ShaftKind(own["kind"]), "key_standard": KeyStandard(standard) if standard else None}
    )


def requirement_of(body: dict[str, Any]) -> Requirement:
    own = {
        name: plain(value)
        for name, value in body.items()
        if name not in ENGAGEMENT_MEMBERS and name != "duty"
    }
    words = {
        name: kind(own[name])
        for name, kind in {"role": PositionRole, "hub_style": HubStyle, "material": Material}.items()
        if own.get(name)
    }
    envelope = {name: plain(value) for name, value in (own.get("envelope") or {}).items()}
    own |= {
        "chain": engagement_of(body),
        "shaft": shaft_of(own.get("shaft")),
        "environment": frozenset(Environment(word) for word in own.get("environment") or ()),
        "envelope": Envelope(**envelope),
    }
    return Requirement(**{**own, **words})


def duty_of(body: dict[str, Any]) -> Duty:
    return Duty(**{name: plain(value) for name, value in (body.get("duty") or {}).items()})
