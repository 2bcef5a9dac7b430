"""The body of a movement: what each kind needs and takes, and the movement that the ledger books."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.parsing import (
    MoneyField,
    StrictBooleanField,
    StrictCharField,
    StrictChoiceField,
    StrictDateField,
    StrictIntegerField,
    UtcDateTimeField,
)
from api.exchange.booking import lengths
from api.wire.fields import OptionalTextField
from api.wire.recorded_verdicts import LONGEST_QUOTE
from api.wire.references import IdField, reference_to
from api.wire.serializers import BodySerializer, MemberErrors
from drives.models import Position
from inventory.facts import fact
from inventory.models import (
    AVAILABLE_CONDITIONS,
    Bin,
    Condition,
    Item,
    MovementKind,
    ReasonCode,
    StockPiece,
    Storeroom,
)
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stores.ledger import Movement
from inventory.stores.ledger.movement import Who

MOST_PIECES = 1_000
ANY_KIND = frozenset(
    ("kind", "item", "storeroom", "condition", "work_order", "reason", "reference", "occurred_at")
)
NEEDED: dict[str, tuple[str, ...]] = {
    MovementKind.RECEIPT: ("quantity",),
    MovementKind.ISSUE: ("quantity",),
    MovementKind.RETURN: ("quantity",),
    MovementKind.TRANSFER: ("quantity", "to_storeroom"),
    MovementKind.COUNT: ("counted",),
    MovementKind.SCRAP: ("quantity",),
}
TAKEN: dict[str, tuple[str, ...]] = {
    MovementKind.RECEIPT: ("bin", "piece_links", "piece_label", "unit_cost"),
    MovementKind.ISSUE: ("piece", "join_pieces", "position", "verdict", "expected_back_on", "override"),
    MovementKind.RETURN: ("bin", "piece_links", "position", "reason_code"),
    MovementKind.TRANSFER: ("to_condition", "bin", "piece", "join_pieces"),
    MovementKind.COUNT: ("seen", "bin", "piece", "reason_code"),
    MovementKind.SCRAP: ("piece", "join_pieces", "reason_code"),
}
KINDS = tuple(str(kind) for kind in NEEDED)
REASON_CODES: dict[str, tuple[str, ...]] = {
    MovementKind.RETURN: (
        ReasonCode.WORN,
        ReasonCode.NOT_NEEDED,
        ReasonCode.DID_NOT_FIT,
        ReasonCode.WRONG_ITEM,
        ReasonCode.DEFECTIVE,
        ReasonCode.SURPLUS,
    ),
    MovementKind.SCRAP: (ReasonCode.WRITTEN_OFF, ReasonCode.DEFECTIVE, ReasonCode.SURPLUS),
    MovementKind.COUNT: (ReasonCode.FOUND, ReasonCode.NOT_THERE),
}
HELD_FIRST = (ReasonCode.WORN, ReasonCode.DID_NOT_FIT, ReasonCode.WRONG_ITEM, ReasonCode.DEFECTIVE)
"""What comes back for these reasons is put on hold, until somebody has looked at it; a worn part is scrapped at once."""


def caller_of(request: Request) -> Who:
    """A user where there is one, else the name of the token."""
    return request.user if request.user.pk else caller_name(request)


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


def check_piece_links(values: dict[str, Any]) -> MemberErrors:
    """The links of each piece in place of links per piece."""
    links, quantity = values.get("piece_links"), values.get("quantity")
    if isinstance(links, int) and quantity is not None:
        if quantity / links > MOST_PIECES:
            return {"piece_links": [fact("too_many_pieces_at_once", most=MOST_PIECES)]}
        values["piece_links"] = lengths(quantity, links)
    return {}


def quantity_field(least: int = 1) -> StrictIntegerField:
    return StrictIntegerField(min_value=least, max_value=GREATEST_QUANTITY, required=False, allow_null=True)


def quote_field() -> OptionalTextField:
    return OptionalTextField(
        max_length=LONGEST_QUOTE,
        help_text="The id of the verdict that this rests on; one that is out of date is refused with the new one (409).",
    )


# What is on a shelf, by the pieces that may be taken.
class LineSerializer(BodySerializer):
    item = reference_to(Item)
    quantity = StrictIntegerField(min_value=1, max_value=GREATEST_QUANTITY)
    condition = StrictChoiceField(
        choices=[word.value for word in AVAILABLE_CONDITIONS], default=Condition.NEW.value
    )


# What everything that is booked on a shelf says.
class ShelfBodySerializer(BodySerializer):
    item = reference_to(Item)
    storeroom = reference_to(Storeroom)
    work_order = OptionalTextField(max_length=60)
    position = reference_to(Position, optional=True)
    reason = OptionalTextField(max_length=200)
    reference = OptionalTextField(max_length=80)
    occurred_at = UtcDateTimeField(required=False, allow_null=True)


class OverrideSerializer(BodySerializer):
    """Why reserved stock is taken; the owner is informed, and the reservation becomes short."""

    reason = StrictCharField(max_length=200)


class MovementRequestSerializer(ShelfBodySerializer):
    """A movement to book. A count gives `counted`, every other kind `quantity`.

    A return that did not fit, is defective or is the wrong item is put on hold. A worn part (`worn`) leaves the books: its
    return and its scrap are booked together. A transfer within one storeroom gives `to_condition`.
    """

    kind = StrictChoiceField(choices=KINDS)
    condition = StrictChoiceField(
        choices=Condition.choices, required=False, allow_null=True, help_text="Without it: new."
    )
    quantity = quantity_field()
    counted = quantity_field(0)
    seen = quantity_field(0)
    to_storeroom = reference_to(Storeroom, optional=True)
    to_condition = StrictChoiceField(choices=Condition.choices, required=False, allow_null=True)
    bin = StrictCharField(max_length=30, required=False, allow_null=True)
    piece = IdField(queryset=StockPiece.objects.all(), required=False, allow_null=True)
    piece_links = PieceLinksField(required=False, allow_null=True)
    piece_label = OptionalTextField(max_length=40)
    join_pieces = StrictBooleanField(required=False)
    reason_code = StrictChoiceField(choices=ReasonCode.choices, required=False, allow_null=True)
    verdict = quote_field()
    expected_back_on = StrictDateField(required=False, allow_null=True)
    unit_cost = MoneyField(required=False, allow_null=True)
    override = OverrideSerializer(required=False, allow_null=True)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        """What this kind needs and does not take; null and empty text are as good as left out."""
        for name, value in list(values.items()):
            if value is None or value is False or value == "":
                del values[name]
        kind = values.get("kind")
        if kind is None:
            return {}
        if kind == MovementKind.TRANSFER and "to_condition" in values and "storeroom" in values:
            values.setdefault("to_storeroom", values["storeroom"])
        missing = [name for name in NEEDED[kind] if name not in values]
        taken = ANY_KIND | {*NEEDED[kind], *TAKEN[kind]}
        found: MemberErrors = {
            name: [fact("movement_needs_member", kind=kind, member=name)] for name in missing
        }
        strays = [name for name in values if name not in taken]
        found |= {name: [fact("member_not_of_movement", kind=kind, member=name)] for name in strays}
        return found | self.judge_reason(kind, values) | self.resolve(values)

    def judge_reason(self, kind: str, values: dict[str, Any]) -> MemberErrors:
        """The words of this kind, and the condition that follows from them."""
        code, allowed = values.get("reason_code"), REASON_CODES.get(kind, ())
        held = kind == MovementKind.RETURN and code in HELD_FIRST
        condition = values.setdefault("condition", Condition.ON_HOLD if held else Condition.NEW)
        found: MemberErrors = {}
        if code and allowed and code not in allowed:
            found["reason_code"] = [fact("reason_not_of_movement", kind=kind, allowed=", ".join(allowed))]
        if held and condition != Condition.ON_HOLD:
            found["condition"] = [fact("return_is_put_on_hold", reason_code=code)]
        return found

    def resolve(self, values: dict[str, Any]) -> MemberErrors:
        """The bin in its storeroom, and the lengths of the pieces."""
        room = values.get("to_storeroom") or values.get("storeroom")
        found: MemberErrors = {}
        if "bin" in values and room is not None:
            code = values["bin"]
            values["bin"] = Bin.objects.filter(storeroom=room, code=code).first()
            if values["bin"] is None:
                found["bin"] = [fact("no_such_bin", storeroom=room.code, bin=code)]
        return found | check_piece_links(values)


class FoundRequestSerializer(LineSerializer, ShelfBodySerializer):
    """What was taken although the book did not have it. `counted` is all that lay there, with it; left out, the least."""

    counted = quantity_field(0)
    piece = IdField(queryset=StockPiece.objects.all(), required=False, allow_null=True)
    join_pieces = StrictBooleanField(required=False)
    verdict = quote_field()
    expected_back_on = StrictDateField(required=False, allow_null=True)


class NotThereRequestSerializer(ShelfBodySerializer):
    """The empty shelf, and where the part was needed."""

    condition = StrictChoiceField(choices=Condition.choices, default=Condition.NEW)


class ReverseSerializer(BodySerializer):
    """What was wrong with the movement. Without `quantity` all that is left of it is reversed."""

    reason = StrictCharField(max_length=200)
    quantity = quantity_field()
    reference = OptionalTextField(max_length=80)
    occurred_at = UtcDateTimeField(required=False, allow_null=True)


def movement_of(values: dict[str, Any], by: Who) -> Movement:
    details = dict(values)
    details.pop("verdict", None)
    position = details.pop("position", None)
    override = details.pop("override", None)
    return Movement(
        by=by,
        position=position.tag if position is not None else "",
        pieces=details.pop("piece_links", None),
        override=override["reason"] if override else "",
        **details,
    )
