"""The body of a movement: what each kind needs and takes, and the movement that the ledger books."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request

from api.auth import caller_name
from api.exchange.booking import lengths
from api.parsing import (
    MoneyField,
    StrictBooleanField,
    StrictCharField,
    StrictChoiceField,
    StrictDateField,
    StrictIntegerField,
    UtcDateTimeField,
)
from api.resources.fields import OptionalTextField
from api.resources.records import ActSerializer, Faults
from api.resources.references import IdField, item_field, position_field, storeroom_field
from inventory.ledger import Movement
from inventory.ledger.movement import Who
from inventory.models import Bin, Condition, MovementKind, ReasonCode, StockPiece
from inventory.models.fields import GREATEST_QUANTITY

MOST_PIECES = 1_000
ANY_KIND = frozenset(
    ("kind", "item", "storeroom", "condition", "work_order", "reason", "reference", "occurred_at")
)
NEEDED = {
    MovementKind.RECEIPT: ("quantity",),
    MovementKind.ISSUE: ("quantity",),
    MovementKind.TRANSFER: ("quantity", "to_storeroom"),
    MovementKind.COUNT: ("counted",),
}
TAKEN = {
    MovementKind.RECEIPT: ("bin", "piece_links", "piece_label", "unit_cost"),
    MovementKind.ISSUE: ("piece", "join_pieces", "position", "expected_back_on"),
    MovementKind.TRANSFER: ("to_condition", "bin", "piece", "join_pieces"),
    MovementKind.COUNT: ("seen", "bin", "piece", "reason_code"),
}
KINDS = tuple(str(kind.value) for kind in NEEDED)


def caller_of(request: Request) -> Who:
    """A user where there is one, else the name of the token."""
    return request.user if request.user.pk else caller_name(request)


class KindField(StrictChoiceField):
    default_error_messages = {
        "not_yet": "A {input} cannot be booked here; {allowed} can.",
    }

    def to_internal_value(self, data: Any) -> Any:
        if data in MovementKind.values and data not in self.choices:
            self.fail("not_yet", input=data, allowed=", ".join(KINDS))
        return super().to_internal_value(data)


@extend_schema_field(
    {
        "oneOf": [
            {"type": "integer", "minimum": 1, "maximum": GREATEST_QUANTITY},
            {
                "type": "array",
                "items": {"type": "integer", "minimum": 1},
                "minItems": 1,
                "maxItems": MOST_PIECES,
            },
        ]
    }
)
class PieceLinksField(serializers.Field[Any, Any, Any, Any]):
    """In what lengths chain came in: links per piece, or the links of each piece."""

    default_error_messages = {
        "invalid": "The links of a piece are expected here, or a list with the links of each piece.",
        "many": "At most {most} pieces come in with one movement.",
    }

    def to_internal_value(self, data: Any) -> int | list[int]:
        given = data if isinstance(data, list) else [data]
        if len(given) > MOST_PIECES:
            self.fail("many", most=MOST_PIECES)
        sound = [
            isinstance(one, int) and not isinstance(one, bool) and 1 <= one <= GREATEST_QUANTITY
            for one in given
        ]
        if not given or not all(sound):
            self.fail("invalid")
        return list(data) if isinstance(data, list) else int(data)

    def to_representation(self, value: Any) -> Any:
        return value


def quantity_field(least: int = 1) -> StrictIntegerField:
    return StrictIntegerField(min_value=least, max_value=GREATEST_QUANTITY, required=False, allow_null=True)


class MovementRequestSerializer(ActSerializer):
    """A movement to book. A count gives `counted`, every other kind `quantity`."""

    kind = KindField(choices=KINDS)
    item = item_field()
    storeroom = storeroom_field()
    condition = StrictChoiceField(choices=Condition.choices, default=Condition.NEW)
    quantity = quantity_field()
    counted = quantity_field(0)
    seen = quantity_field(0)
    to_storeroom = storeroom_field(required=False, allow_null=True)
    to_condition = StrictChoiceField(choices=Condition.choices, required=False, allow_null=True)
    bin = StrictCharField(max_length=30, required=False, allow_null=True)
    piece = IdField(queryset=StockPiece.objects.all(), required=False, allow_null=True)
    piece_links = PieceLinksField(required=False, allow_null=True)
    piece_label = OptionalTextField(max_length=40)
    join_pieces = StrictBooleanField(required=False)
    work_order = OptionalTextField(max_length=60)
    position = position_field(required=False, allow_null=True)
    reason = OptionalTextField(max_length=200)
    reason_code = StrictChoiceField(choices=ReasonCode.choices, required=False, allow_null=True)
    reference = OptionalTextField(max_length=80)
    expected_back_on = StrictDateField(required=False, allow_null=True)
    unit_cost = MoneyField(required=False, allow_null=True)
    occurred_at = UtcDateTimeField(required=False, allow_null=True)

    def judge(self, values: dict[str, Any], faults: Faults) -> Faults:
        """What this kind needs and does not take; null and empty text are as good as left out."""
        for name in [
            name for name, value in values.items() if value is None or value is False or value == ""
        ]:
            del values[name]
        kind = values.get("kind")
        if kind is None:
            return {}
        missing = [name for name in NEEDED[kind] if name not in values]
        taken = ANY_KIND | {*NEEDED[kind], *TAKEN[kind]}
        found: Faults = {name: [f"A movement of kind {kind} needs {name}."] for name in missing}
        found |= {name: [f"{name} does not belong to a {kind}."] for name in values if name not in taken}
        return found | self.resolve(values)

    def resolve(self, values: dict[str, Any]) -> Faults:
        """The bin in its storeroom, and the lengths of the pieces."""
        room = values.get("to_storeroom") or values.get("storeroom")
        found: Faults = {}
        if "bin" in values and room is not None:
            code, values["bin"] = (
                values["bin"],
                Bin.objects.filter(storeroom=room, code=values["bin"]).first(),
            )
            if values["bin"] is None:
                found["bin"] = [f'Storeroom {room} has no bin "{code}".']
        links, quantity = values.get("piece_links"), values.get("quantity")
        if isinstance(links, int) and quantity is not None:
            if quantity / links > MOST_PIECES:
                found["piece_links"] = [f"At most {MOST_PIECES} pieces come in with one movement."]
            else:
                values["piece_links"] = lengths(quantity, links)
        return found


def movement_of(values: dict[str, Any], by: Who) -> Movement:
    details = dict(values)
    position = details.pop("position", None)
    return Movement(
        by=by,
        position=position.tag if position is not None else "",
        pieces=details.pop("piece_links", None),
        **details,
    )
