"""May this go where that sits? A verdict on two sides, each given in full or by reference."""

from dataclasses import dataclass
from functools import partial
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import attributes as wire
from api.answers.verdicts import VerdictSerializer
from api.edge.errors import core_refusals, detail_of, field_errors
from api.edge.parsing import StrictCharField, StrictIntegerField, StrictSerializer
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from drives.models import Position
from drives.place.duty import Duty
from drives.place.verdict import judge_for_place
from drives.substitutes.position_requirement import (
    fitted_sprocket,
    position_requirement,
    positions_with_requirements,
)
from drives.substitutes.rules_here import load_rules, number_of
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.catalogue.stock_on_hand import CompanionNeeds, load_stock
from inventory.facts import Fact, fact
from inventory.interchange.bushing import BushesAtHand, is_bushed
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.models import Item, PartKind, Specification

REFERENCES = ("position", "item", "specification")


class ReferenceMixin(StrictSerializer):
    """A side may be one reference instead of attributes."""

    position = StrictCharField(max_length=60, required=False)
    item = StrictCharField(max_length=40, required=False)
    specification = StrictIntegerField(min_value=1, required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        named = [name for name in REFERENCES if name in attrs]
        if named and len(attrs) > 1:
            raise serializers.ValidationError({named[0]: [detail_of(fact("reference_with_other_members"))]})
        return attrs if named else super().validate(attrs)


class RequiredSideSerializer(ReferenceMixin, wire.RequirementSerializer):
    pass


class OfferedSideSerializer(ReferenceMixin, wire.SprocketSerializer):
    pass


class CheckBodySerializer(StrictSerializer):
    required = RequiredSideSerializer()  # type: ignore[assignment]
    offered = OfferedSideSerializer()


@dataclass(frozen=True)
class RequiredSide:
    """Requirement and duty of the required side; notes say what was taken from a fitted unit."""

    required: Requirement
    duty: Duty
    notes: tuple[Fact, ...] = ()
    position: Position | None = None
    item: Item | None = None


def position_named(tag: str, at: str) -> Position:
    position = visible_to_caller(positions_with_requirements()).filter(tag=tag).first()
    if position is None:
        raise field_errors({at: fact("no_such_record", kind="position", name=tag)})
    return position


def sprocket_of(record: Specification | None, at: str) -> Sprocket:
    if record is None or record.kind != PartKind.SPROCKET:
        raise field_errors({at: fact("no_sprocket_with_attributes")})
    return attributes_of(record)


def item_at(side: dict[str, Any], at: str) -> Item | None:
    if "item" not in side:
        return None
    item = Item.objects.with_specification().filter(stock_number=side["item"]).first()
    if item is None:
        raise field_errors({f"{at}/item": fact("no_such_record", kind="item", name=side["item"])})
    return item


def part_named(side: dict[str, Any], item: Item | None, at: str) -> Sprocket | None:
    """The sprocket that an item or specification reference means; None where the side is no such reference."""
    if item is not None:
        return sprocket_of(item.specification, f"{at}/item")
    if "specification" in side:
        record = Specification.objects.filter(pk=side["specification"]).first()
        if record is None:
            raise field_errors(
                {
                    f"{at}/specification": fact(
                        "no_such_record", kind="specification", name=side["specification"]
                    )
                }
            )
        return sprocket_of(record, f"{at}/specification")
    return None


def required_of(side: dict[str, Any]) -> RequiredSide:
    if "position" in side:
        place = position_requirement(position_named(side["position"], "/required/position"))
        return RequiredSide(place.required, place.duty, place.notes, position=place.position)
    item = item_at(side, "/required")
    part = part_named(side, item, "/required")
    if part is not None:
        return RequiredSide(requirement_of(part), Duty(), item=item)
    with core_refusals("required"):
        return RequiredSide(wire.requirement_of(side), wire.duty_of(side))


def offered_of(side: dict[str, Any]) -> tuple[Item | None, Sprocket]:
    """The item, where it is known, and its attributes."""
    if "position" in side:
        position = position_named(side["position"], "/offered/position")
        fitted, unit = fitted_sprocket(position), position_requirement(position).fitted
        if fitted is None:
            raise field_errors({"/offered/position": fact("nothing_fitted_to_compare")})
        return unit.item if unit is not None else None, fitted
    item = item_at(side, "/offered")
    part = part_named(side, item, "/offered")
    if part is not None:
        return item, part
    with core_refusals("offered"):
        return None, wire.specification_of(side)


def shelf_bushes(body: dict[str, Any], offered: Sprocket, practice: Practice) -> BushesAtHand | None:
    """The shelves are looked at where the candidate is an item of this plant; else nobody knows what lies there."""
    if "item" not in body["offered"] or not is_bushed(offered):
        return None
    needs = CompanionNeeds(frozenset({offered.bush_size.upper()} if offered.bush_size else ()))
    return load_stock([], needs, limits=practice.thresholds).bushes_at_hand()


class CheckAnswerSerializer(VerdictSerializer):
    notes = FactSerializer(many=True, help_text="What the required position borrows from a fitted unit.")


def answer_of(body: dict[str, Any]) -> dict[str, Any]:
    side, practice = required_of(body["required"]), current_practice()
    item, offered = offered_of(body["offered"])
    judge = partial(judge_for_place, side.required, duty=side.duty, practice=practice)
    verdict = judge(offered, bushes=shelf_bushes(body, offered, practice))
    if item is not None:
        rules = load_rules(side.position, side.item, timezone.now(), judge)
        verdict = rules.settle(number_of(item), offered, verdict)
    notes = FactSerializer(side.notes, many=True)
    return {**VerdictSerializer(verdict).data, "notes": notes.data}


class CheckView(StrictAPIView):
    """Stateless and directional: required and offered do not commute."""

    @extend_schema(request=CheckBodySerializer, responses=CheckAnswerSerializer)
    def post(self, request: Request) -> Response:
        return Response(answer_of(self.read(CheckBodySerializer, request)))
