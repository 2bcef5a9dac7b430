"""A delivery against what was ordered: what to measure, and the verdict on what was measured. Nothing is stored."""

from decimal import Decimal
from typing import Any

from django import forms
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.attributes import chain_named
from api.answers.core_input import LIMITS, LONGEST_TEXT, CoreInputSerializer, core_object
from api.answers.derived_members import CoreAnswerSerializer
from api.answers.identify import ExpectedSizeSerializer, SizeSerializer
from api.edge.errors import core_refusals, detail_of, field_errors, parameter_errors
from api.edge.filtering import NumberText, Range, TruthText
from api.edge.parsing import (
    LengthField,
    StrictBooleanField,
    StrictCharField,
    StrictIntegerField,
    StrictSerializer,
)
from api.edge.viewsets import StrictAPIView
from api.wording.sentences import sentences
from inventory.catalogue.ordered_part import OrderedPart, ordered_item
from inventory.facts import Fact, fact
from inventory.identification.readings import Readings
from inventory.identification.receiving import (
    OWN_SIZES_MM,
    SEPARATING,
    CheckedSize,
    ReceivingCheck,
    ReceivingVerdict,
    judge_delivery,
)
from inventory.identification.rims import Rim
from inventory.models import Condition, Item, MovementKind
from inventory.standards.chains import Chain, UnknownChain, find_chain
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS
from inventory.stores.deliveries import sizes_of

LONGEST_NUMBER, LONGEST_REASON = 40, 200


def item_called(number: str) -> OrderedPart | Fact:
    item = Item.objects.with_specification().filter(stock_number=number).first()
    return ordered_item(item) if item is not None else fact("no_such_record", kind="item", name=number)


class OrderedSerializer(StrictSerializer):
    """The item that was ordered, or its teeth, with bore and keyway where they were ordered finished."""

    item = StrictCharField(max_length=LONGEST_NUMBER, required=False)
    chain = StrictCharField(max_length=LONGEST_TEXT["chain"], required=False)
    teeth = StrictIntegerField(min_value=COUNTED_TEETH[0], max_value=COUNTED_TEETH[1], required=False)
    strands = StrictIntegerField(min_value=STRANDS[0], max_value=STRANDS[1], required=False)
    single_cut = StrictBooleanField(required=False)
    bore_mm = LengthField(min_mm=LIMITS["bore_mm"][0], max_mm=LIMITS["bore_mm"][1], required=False)
    keyway_width_mm = LengthField(
        min_mm=LIMITS["keyway_width_mm"][0], max_mm=LIMITS["keyway_width_mm"][1], required=False
    )

    def validate_chain(self, value: str) -> Chain:
        return chain_named(value)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "item" in attrs and len(attrs) > 1:
            raise serializers.ValidationError({"item": ["Leave out the other members: the item has them."]})
        missing = [name for name in ("chain", "teeth") if name not in attrs]
        if "item" not in attrs and missing:
            raise serializers.ValidationError(
                {name: [detail_of(fact("item_or_teeth_needed"))] for name in missing}
            )
        return attrs


class DeliveredSerializer(CoreInputSerializer):
    """Counted teeth and rows, and what was measured."""

    of = Readings
    members = "teeth strands " + " ".join((*SEPARATING, *OWN_SIZES_MM))
    strands = StrictIntegerField(min_value=STRANDS[0], max_value=STRANDS[1])


class ReceivingBodySerializer(StrictSerializer):
    ordered = OrderedSerializer()
    delivered = DeliveredSerializer()


class ReceivingQuery(forms.Form):
    item = forms.CharField(required=False, max_length=LONGEST_NUMBER)
    chain = forms.CharField(required=False, max_length=LONGEST_TEXT["chain"])
    teeth = NumberText(span=Range(*COUNTED_TEETH, whole=True), required=False)
    strands = NumberText(span=Range(*STRANDS, whole=True), required=False)
    single_cut = TruthText(required=False)
    bore_mm = NumberText(span=Range(*LIMITS["bore_mm"]), required=False)
    keyway_width_mm = NumberText(span=Range(*LIMITS["keyway_width_mm"]), required=False)


class RimSerializer(CoreAnswerSerializer):
    of = Rim
    members = "chain=name same_rim strands single_cut"
    same_rim = serializers.SerializerMethodField(help_text="Other chains that run on the very same teeth.")

    def get_same_rim(self, rim: Rim) -> list[str]:
        return [name for name in rim.designations if name != rim.name]


class CheckedSizeSerializer(SizeSerializer):
    of = CheckedSize
    members = "measurement expected least_mm most_mm reason"
    texts = {
        "expected": "Of a new part.",
        "least_mm": "A reading below is something else; the reading error is included.",
    }
    expected = ExpectedSizeSerializer()


class ReceivingCheckSerializer(CoreAnswerSerializer):
    of = ReceivingCheck
    members = "ordered=rim teeth measure look_alikes not_told_apart"
    texts = {
        "measure": "Beside counting teeth and rows: the fewest measurements that separate it, then bore and keyway as ordered.",
        "look_alikes": "Rims of about this pitch, with as many teeth and rows.",
        "not_told_apart": "Look-alikes that no measurement separates.",
    }


class ReceivingVerdictSerializer(CoreAnswerSerializer):
    of = ReceivingVerdict
    members = "outcome could_be missing reasons"
    texts = {
        "could_be": "Rims that all readings allow.",
        "missing": "Measurements without which it cannot pass.",
    }


class ReceiptBodySerializer(serializers.Serializer[Any]):
    kind = serializers.CharField()
    item = serializers.CharField()
    condition = serializers.ChoiceField(choices=[Condition.NEW.value, Condition.ON_HOLD.value])
    reason = serializers.CharField(help_text="Empty where it passes.")


class ReceiptSerializer(serializers.Serializer[Any]):
    method = serializers.CharField()
    href = serializers.CharField()
    body = ReceiptBodySerializer()


class ReceivingAnswerSerializer(serializers.Serializer[Any]):
    check = ReceivingCheckSerializer()
    verdict = ReceivingVerdictSerializer()
    receipt = ReceiptSerializer(
        allow_null=True,
        help_text="The movement that takes it in, on hold with its reason unless it passes; add `storeroom` and `quantity`. Null "
        "where no item was named.",
    )


def readings_of(delivered: dict[str, Any]) -> Readings:
    """Counts and sizes of `delivered`; a contradiction is named at its member."""
    with core_refusals("delivered"):
        return core_object(Readings, delivered)


def receipt_of(request: Request, item: str | None, verdict: ReceivingVerdict) -> dict[str, Any] | None:
    if item is None:
        return None
    passes = verdict.outcome == "passes"
    body = {
        "kind": MovementKind.RECEIPT.value,
        "item": item,
        "condition": Condition.NEW.value if passes else Condition.ON_HOLD.value,
        "reason": "" if passes else sentences(verdict.reasons)[:LONGEST_REASON],
    }
    return {"method": "POST", "href": request.build_absolute_uri(reverse("movement-list")), "body": body}


def ordered_by_body(body: dict[str, Any]) -> OrderedPart:
    if "item" not in body:
        return OrderedPart(**{name: _plain(value) for name, value in body.items()})
    found = item_called(body["item"])
    if isinstance(found, Fact):
        raise field_errors({"/ordered/item": found})
    return found


def ordered_by_query(wanted: dict[str, Any]) -> OrderedPart:
    """As a body, each problem at its parameter."""
    given = {name: value for name, value in wanted.items() if value not in (None, "")}
    if "item" in given:
        found = item_called(given["item"])
        if isinstance(found, Fact):
            raise parameter_errors({"item": found})
        return found
    missing = [name for name in ("chain", "teeth") if name not in given]
    if missing:
        raise parameter_errors({name: fact("item_or_teeth_needed") for name in missing})
    try:
        chain = find_chain(given.pop("chain"))
    except UnknownChain as error:
        raise parameter_errors({"chain": error.fact}) from error
    whole: dict[str, Any] = {name: int(given.pop(name)) for name in ("teeth", "strands") if name in given}
    return OrderedPart(chain, **whole, **{name: _plain(value) for name, value in given.items()})


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


class ReceivingView(StrictAPIView):
    """The readings of a new part against what was ordered, with the limits that an exact reading may not leave."""

    query_form = ReceivingQuery

    @extend_schema(responses=ReceivingCheckSerializer)
    def get(self, request: Request) -> Response:
        wanted = self.read_query()
        with core_refusals():
            check = ordered_by_query(wanted).check()
        return Response(ReceivingCheckSerializer(check).data)

    @extend_schema(request=ReceivingBodySerializer, responses=ReceivingAnswerSerializer)
    def post(self, request: Request) -> Response:
        body = self.read(ReceivingBodySerializer, request)
        ordered, delivered = ordered_by_body(body["ordered"]), body["delivered"]
        with core_refusals("ordered"):
            check = ordered.check()
        readings = readings_of(delivered)
        with core_refusals("delivered"):
            verdict = judge_delivery(
                check, teeth=readings.teeth, strands=delivered["strands"], read_mm=sizes_of(readings)
            )
        receipt = receipt_of(request, body["ordered"].get("item"), verdict)
        answer = {"check": check, "verdict": verdict, "receipt": receipt}
        return Response(ReceivingAnswerSerializer(answer).data)
