"""Lengths with their word before or behind: bore, hub, outside diameter; keyways with width, height or depth."""

from dataclasses import dataclass
from fractions import Fraction

from inventory.descriptions.key_sizes import least_shaft_mm, second_size
from inventory.descriptions.lengths import in_mm
from inventory.descriptions.lexicon import Meaning
from inventory.descriptions.root_diameter import root_diameter_of
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.standards.bushes import UnknownBush, find_bush

ATTRIBUTE_OF = {
    "bore": "bore_mm",
    "shaft": "bore_mm",
    "max_bore": "max_bore_mm",
    "hub_diameter": "hub_diameter_mm",
    "hub": "hub_diameter_mm",
    "length_through_bore": "length_through_bore_mm",
    "outside_diameter": "outside_diameter_mm",
    "tooth_width": "tooth_width_mm",
    "unwritten": "",
    "dp": "",
    "length": "length_through_bore_mm",
    "diameter": "bore_mm",
    "key": "keyway_width_mm",
    "nut": "keyway_width_mm",
}
WEAK_LABELS = frozenset({"shaft", "hub", "length"})
SKIPPED = frozenset({"filler", "with", "diameter", "x", "for"})
JOINED_LABELS = {
    ("hub", "diameter"): "hub_diameter",
    ("hub", "outside_diameter"): "hub_diameter",
    ("diameter", "hub"): "hub_diameter",
    ("hub", "length"): "length_through_bore",
    ("length", "hub"): "length_through_bore",
    ("bore", "diameter"): "bore",
    ("diameter", "bore"): "bore",
    ("diameter", "shaft"): "bore",
    ("shaft", "diameter"): "bore",
    ("max_bore", "diameter"): "max_bore",
    ("outside_diameter", "diameter"): "outside_diameter",
    ("diameter", "outside_diameter"): "outside_diameter",
    ("unwritten", "diameter"): "unwritten",
    ("pitch", "diameter"): "unwritten",
    ("diameter", "pitch"): "unwritten",
    ("bush", "bore"): "bore",
    ("key", "width"): "key",
}
FRENCH_LABELS = {"AL": "bore", "RC": "key"}
"""AL 30H7 RC 8: alésage and rainure de clavette; in other languages aluminium and roller chain."""
BUSH_SLACK_MM = 0.1
GREATEST_INCH_BORE = 5
"""A bare whole number up to here is in inches: no bore is that small in mm. Judgement."""
SMALLEST_BORE_MM = 9.0
"""Below it a lone number beside KW is taken for the width of the key. Judgement."""
SMALLEST_HUB_MM = 10
SMALLEST_MM = {"bore_mm": 6, "keyway_width_mm": 2}
LARGEST_DECIMAL_INCH = 6
INCH_DECIMALS = 3
"""1.4375: three and more decimals of a small number are those of an inch fraction."""


@dataclass(frozen=True, slots=True)
class ReadLength:
    """A length with how it was understood: `is_unit_open` where neither mark nor size tell the unit."""

    mm: float
    is_stated: bool
    is_unit_open: bool = False


def is_metric_line(line: TypedLine) -> bool:
    """Whether the line gives another length in mm, a tolerance class, or is in a language of metric drawings."""
    return bool(line.languages) or any(
        (piece.unit == "mm" and piece.role not in ("pitch", "pitch_mm", "chain"))
        or piece.kind == "fit"
        or (piece.meaning.topic == "standard" and piece.meaning.value == "din")
        for piece in line.pieces
    )


def length_of(line: TypedLine, piece: Piece, name: str) -> ReadLength:
    """The length of a number for this attribute, by its mark, its form or its size."""
    assert piece.number is not None
    value, form = piece.number.value, piece.number.form
    if piece.unit in ("in", "mm", "cm"):
        return ReadLength(in_mm(value, piece.unit), True)
    if piece.number.is_fraction:
        return ReadLength(in_mm(value, "in"), True)
    after = line.at(line.pieces.index(piece) + 1)
    if after is not None and after.kind == "fit" and after.text[0] in "HFGJKNP":
        return ReadLength(in_mm(value, "mm"), True)
    if form == "decimal":
        return _decimal(piece, value, name)
    return _whole(line, value, name)


def _decimal(piece: Piece, value: Fraction, name: str) -> ReadLength:
    assert piece.number is not None
    decimals = len(piece.number.digits.replace(",", ".").partition(".")[2])
    smallest = SMALLEST_MM.get(name, 6)
    if name == "keyway_width_mm":
        return ReadLength(in_mm(value, "in" if value < smallest else "mm"), False)
    if value < smallest:
        return ReadLength(in_mm(value, "in"), False)
    is_open = value < 8 or (value < 12 and decimals >= INCH_DECIMALS)
    return ReadLength(in_mm(value, "mm"), False, is_open)


def _whole(line: TypedLine, value: Fraction, name: str) -> ReadLength:
    if name == "keyway_width_mm":
        return ReadLength(in_mm(value, "mm" if value >= SMALLEST_MM[name] else "in"), False)
    if value <= GREATEST_INCH_BORE:
        return ReadLength(in_mm(value, "in"), False)
    return ReadLength(in_mm(value, "mm"), False, not is_metric_line(line))


def bush_range_mm(size: str) -> tuple[float, float] | None:
    """Smallest and largest bore of a bush over all lists."""
    try:
        ranges = find_bush(size).bore_ranges
    except UnknownBush:
        return None
    if not ranges:
        return None
    return min(one.min_mm for one in ranges), max(one.max_mm for one in ranges)


def _is_bore_of_bush(line: TypedLine, bore_mm: float) -> bool:
    """A bush of inches is no larger than 5: within its bores in mm, a bare number is in mm."""
    size = line.value_of("bush_size")
    limits = bush_range_mm(size) if isinstance(size, str) else None
    return limits is not None and limits[0] - BUSH_SLACK_MM <= bore_mm <= limits[1] + BUSH_SLACK_MM


def say_length(line: TypedLine, name: str, number: Piece, *labels: Piece) -> None:
    """Record a length with its question where the unit is open."""
    read = length_of(line, number, name)
    pieces = sorted((number, *labels), key=lambda one: one.start)
    if read.is_unit_open and not (name == "bore_mm" and _is_bore_of_bush(line, read.mm)):
        line.say(name, round(read.mm, 6), *pieces, basis="assumed", confidence=0.6)
        line.ask("unit_not_given", attribute=name, text=line.original([number])[0])
    else:
        line.say(name, round(read.mm, 6), *pieces, basis="stated" if read.is_stated else "implied")
    after = line.at(line.pieces.index(number) + 1)
    if after is not None and after.kind == "fit":
        line.take(name, after)


def _is_free(piece: Piece | None) -> bool:
    return (
        piece is not None
        and piece.number is not None
        and not piece.role
        and piece.unit in ("", "in", "mm", "cm")
    )


def _is_label(piece: Piece | None) -> bool:
    return piece is not None and not piece.role and piece.topic in ATTRIBUTE_OF


def merge_labels(line: TypedLine) -> None:
    """HUB DIA is one label, as is BORE Ø; the second word is then part of the first."""
    for index, piece in enumerate(line.pieces):
        after = line.at(index + 1)
        if after is None or piece.role or after.role or after.breaks:
            continue
        joined = JOINED_LABELS.get((piece.topic, after.topic))
        if joined:
            is_bore = joined == "bore" and after.topic == "bore"
            meaning = after.meaning if is_bore else piece.meaning
            if joined != piece.topic and not is_bore:
                meaning = type(piece.meaning)(joined, "any", piece.meaning.languages)
            after.meaning = meaning
            piece.role = "label"
    is_french = "fr" in line.languages and "it" not in line.languages
    for index, piece in enumerate(line.pieces):
        if piece.text in FRENCH_LABELS and is_french and not piece.role and _is_free(line.at(index + 1)):
            piece.meaning = Meaning(FRENCH_LABELS[piece.text], "any", ("fr",))
        if piece.text == "D" and not piece.role and _is_free(line.at(index + 1)):
            following = line.pieces[index + 1]
            if following.is_glued or following.gap in (".", "=", " = ", "= ", " ="):
                piece.meaning = type(piece.meaning)("diameter", "", ())
        elif (
            (
                piece.text in ("DA", "L", "B", "DN")
                and not piece.role
                and (after := line.at(index + 1)) is not None
            )
            and "=" in after.gap
            and _is_free(after)
            and piece.text in ("DA", "L")
        ):
            topic = {"DA": "outside_diameter", "L": "length_through_bore"}[piece.text]
            piece.meaning = type(piece.meaning)(topic, "", ())


def _right(line: TypedLine, index: int) -> Piece | None:
    at = index + 1
    while (near := line.at(at)) is not None and (
        (near.topic in SKIPPED and not _is_free(near)) or near.text in ("~", "*", "&") or near.role == "label"
    ):
        at += 1
    return near if _is_free(near) else None


def _left(line: TypedLine, index: int) -> Piece | None:
    at = index - 1
    while (near := line.at(at)) is not None and (
        near.kind == "fit" or near.role == "label" or (near.topic == "diameter" and not near.role)
    ):
        at -= 1
    if near is None or not _is_free(near):
        return None
    return None if line.pieces[index].breaks else near


def _label_follows(line: TypedLine, number: Piece) -> bool:
    """Whether another label stands directly behind the number and has no number of its own behind it."""
    at = line.pieces.index(number) + 1
    while (near := line.at(at)) is not None and near.kind == "fit":
        at += 1
    if near is not None and near.topic == "x" and _is_free(line.at(at + 1)):
        at += 2
        near = line.at(at)
    if near is None or near.breaks or not _is_label(near):
        return False
    own = _right(line, at)
    return own is None or own.breaks


def _pair_of(line: TypedLine, number: Piece) -> Piece | None:
    """The second number of 8 X 7, where the number is the first."""
    at = line.pieces.index(number)
    cross, second = line.at(at + 1), line.at(at + 2)
    if cross is not None and cross.topic == "x" and not cross.role and _is_free(second):
        return second
    return None


def _pair_before(line: TypedLine, number: Piece) -> Piece | None:
    at = line.pieces.index(number)
    cross, first = line.at(at - 1), line.at(at - 2)
    if cross is not None and cross.topic == "x" and not cross.role and _is_free(first):
        return first
    return None


def _choose(line: TypedLine, index: int, name: str) -> Piece | None:
    label = line.pieces[index]
    left, right = _left(line, index), _right(line, index)
    if left is not None and name != "keyway_width_mm" and _pair_before(line, left) is not None:
        left = None
    if left is None and right is not None and label.topic in WEAK_LABELS and _label_follows(line, right):
        return None
    if left is None or right is None:
        return left or right
    if any(sign in right.gap for sign in "=:") or (right.is_glued and not label.is_glued):
        return right
    if label.is_glued and not right.is_glued:
        return left
    if _label_follows(line, right) or right.breaks:
        return left
    marks = [one for one in (left, right) if one.unit or (one.number and one.number.form != "integer")]
    if len(marks) == 1 and marks[0] is right:
        return right
    if name == "keyway_width_mm":
        small = min((left, right), key=lambda one: length_of(line, one, name).mm)
        return small if small is right or line.value_of("bore_mm") is not None else right
    larger = max((left, right), key=lambda one: length_of(line, one, name).mm)
    if not (larger is left and _is_label(_after(line, right))):
        line.ask("number_of_word_unclear", text=line.original([left, right])[0])
    return larger


def _after(line: TypedLine, piece: Piece) -> Piece | None:
    return line.at(line.pieces.index(piece) + 1)


def read_labelled_lengths(line: TypedLine) -> None:
    merge_labels(line)
    for index, piece in enumerate(line.pieces):
        if piece.role or piece.topic not in ATTRIBUTE_OF:
            continue
        name = ATTRIBUTE_OF[piece.topic]
        if piece.topic == "bore" and piece.meaning.value == "hex":
            name = "hex_across_flats_mm"
        if piece.topic in ("key", "nut"):
            _read_key(line, index, piece)
            continue
        number = _choose(line, index, name or "bore_mm")
        if piece.topic == "dp" and (
            number is None or number.number is None or number.number.form == "integer"
        ):
            continue
        if number is None:
            continue
        is_bare_ahead = number.start < piece.start and not number.unit
        if piece.topic in ("hub", "length") and (is_bare_ahead or not _is_hub_size(number)):
            continue
        if not name:
            line.take("other_length", piece, number)
        elif piece.topic == "bore" and piece.meaning.value == "other":
            continue
        else:
            labels = [one for one in (piece,) if one.topic not in ("bore", "shaft")]
            say_length(line, name, number, *labels)
            if piece.topic == "shaft" or piece.meaning.value == "any":
                line.take("bore_mm", piece)


def read_other_dimensions(line: TypedLine) -> None:
    """A length beside WIDE, THICK, HOLES … is no bore and in no column: it is asked about."""
    for index, piece in line.unread("dimension"):
        number = _left(line, index) or _right(line, index)
        if number is not None:
            text = line.original(sorted((number, piece), key=lambda one: one.start))[0]
            line.ask("number_of_word_unclear", text=text)
            line.take("other_length", number, piece)


def _is_hub_size(number: Piece) -> bool:
    """A bare small number beside HUB is a count of hubs or of sides rather than a size."""
    return (
        bool(number.unit)
        or number.number is None
        or number.number.form != "integer"
        or number.number.value >= SMALLEST_HUB_MM
    )


def _read_key(line: TypedLine, index: int, piece: Piece) -> None:
    is_nut = piece.topic == "nut"
    if is_nut and "de" not in line.languages:
        return
    number = _choose(line, index, "keyway_width_mm")
    first, second = number, None
    if number is not None:
        first, second = _key_pair(line, number)
    if first is None or first.number is None:
        line.say("keyway", True, piece)
        return
    if second is None and _may_be_bore(line, first):
        line.say("keyway", True, piece)
        return
    _say_key(line, piece, first, second)


def _may_be_bore(line: TypedLine, number: Piece) -> bool:
    """The only length of the line beside KW, too wide for a key of most bores: 60B18-1-7/16 KW."""
    width_mm = length_of(line, number, "keyway_width_mm").mm
    if width_mm < SMALLEST_BORE_MM or "bore_mm" in line.attributes:
        return False
    others = [
        one
        for one in line.pieces
        if one is not number and _is_free(one) and one.number and (one.unit or one.number.form != "integer")
    ]
    if others or any(one.topic in ("bore", "shaft", "diameter") and not one.role for one in line.pieces):
        return False
    if _may_be_key(line, number, width_mm) and line.value_of("bore_type") != "finished":
        line.ask("number_of_word_unclear", text=line.original([number])[0])
    return True


def _may_be_key(line: TypedLine, number: Piece, width_mm: float) -> bool:
    """A key of that width is in the tables, for a shaft that has room within the teeth; of 1-1/4 the 1 may belong to the code."""
    shaft_mm, root_mm = least_shaft_mm(width_mm), root_diameter_of(line)
    is_mixed = number.number is not None and number.number.form == "mixed"
    return shaft_mm is not None and (is_mixed or root_mm is None or shaft_mm < root_mm)


def _key_pair(line: TypedLine, number: Piece) -> tuple[Piece, Piece | None]:
    behind = _pair_of(line, number)
    if behind is not None:
        return number, behind
    ahead = _pair_before(line, number)
    if ahead is not None and ahead.number is not None and number.number is not None:
        unit = ahead.unit or number.unit
        width = length_of(line, ahead, "keyway_width_mm").mm if not unit else in_mm(ahead.number.value, unit)
        second = length_of(line, number, "keyway_width_mm").mm
        if not ahead.unit and ahead.number.form == "integer" and number.number.is_fraction:
            width = in_mm(ahead.number.value, "in")
        if second_size(width, second) is not None:
            return ahead, number
    return number, None


def _say_key(line: TypedLine, piece: Piece, first: Piece, second: Piece | None) -> None:
    assert first.number is not None
    name = "keyway_width_mm"
    if second is not None and second.number is not None:
        if not first.unit and first.number.form == "decimal" and first.number.value < SMALLEST_MM[name]:
            first.unit = "in"
        if not first.unit:
            first.unit = second.unit or ("in" if second.number.is_fraction else "")
        if not second.unit and first.unit:
            second.unit = first.unit
        width_mm, other_mm = length_of(line, first, name).mm, _second_mm(line, first, second)
        kind = second_size(width_mm, other_mm)
        pieces = sorted((piece, first, second), key=lambda one: one.start)
        crossed = line.pieces[line.pieces.index(first) + 1]
        if kind is None:
            line.ask("key_size_not_known", width_mm=width_mm, other_mm=other_mm)
        line.take("keyway", piece)
        line.say(name, round(width_mm, 6), *pieces)
        line.take("keyway", crossed)
        if kind is not None:
            line.say(kind, round(other_mm, 6), *pieces)
    else:
        read = length_of(line, first, name)
        line.say(
            name,
            round(read.mm, 6),
            *sorted((piece, first), key=lambda one: one.start),
            basis="stated" if read.is_stated else "implied",
        )
    line.say("keyway", True, piece)
    for near in (line.at(line.pieces.index(first) + 1), line.at(line.pieces.index(first) + 2)):
        if near is not None and near.kind == "fit":
            line.take(name, near)


def _second_mm(line: TypedLine, first: Piece, second: Piece) -> float:
    assert second.number is not None
    if second.unit in ("in", "mm"):
        return in_mm(second.number.value, second.unit)
    if first.unit == "in" or second.number.is_fraction:
        return in_mm(second.number.value, "in")
    return in_mm(second.number.value, "mm")
