"""What a line says beside the part: locations, quantities, prices, dates, part numbers, standards. It is taken and not used."""

import re

from inventory.descriptions.codes import INCH_CHAINS
from inventory.descriptions.key_sizes import is_key_width
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine

STANDARD_NUMBERS = frozenset(
    [
        "606",
        "1275",
        "1395",
        "773",
        "8187",
        "8188",
        "8192",
        "8196",
        "8181",
        "6885",
        "228",
        "4687",
        "10190",
        "9633",
        "1977",
        "29",
        "29.1",
        "29.3",
        "29.4",
        "29.100",
        "29.2",
        "7484",
        "286",
        "8154",
    ]
)
"""Of standards for chains, sprockets and keys; any other number after such a word stays unread."""
LONGEST_PLACE_NUMBER = 4
GREATEST_PLACE = 5
"""Up to here a number between a place and BORE is that of the place. Judgement."""
MOST_ORDINAL = 12
SHORTEST_PART_NUMBER = 5
SCREW_ANGLES = (45, 60, 90, 120, 180)
"""2SS@90: two set screws at 90 degrees."""
KW_FROM_MOTOR = 3
"""Words between MOTOR and KW."""
YEARS = range(1950, 2050)
MONEY_SIGNS = frozenset("$€£")
CHAIN_NUMBERS = frozenset(INCH_CHAINS) | {
    "415",
    "420",
    "425",
    "428",
    "520",
    "525",
    "530",
    "532",
    "630",
    "632",
}
JOINS = re.compile(r"[-./\\_]?")


def read_asides(line: TypedLine) -> None:
    for index, piece in enumerate(line.pieces):
        if piece.kind == "date":
            line.take("date", piece)
        elif piece.kind == "sign" and piece.text in MONEY_SIGNS:
            _money(line, index)
        elif (piece.text == "@" and _whole(line.at(index + 1)) in SCREW_ANGLES) or (
            _whole(piece) in SCREW_ANGLES and _is_degrees(line.at(index + 1))
        ):
            line.take("set_screw", piece, line.at(index + 1))
    _part_numbers(line)
    _standards(line)
    _bearing_numbers(line)
    for index, piece in line.unread("money"):
        _money(line, index)
        line.take("price", piece)
    for index, piece in line.unread("year"):
        _year(line, index, piece)
    for index, piece in line.unread("quantity"):
        _quantity(line, index, piece)
    for index, piece in line.unread("stk"):
        _quantity(line, index, piece)
    _leading_quantity(line)
    _powers_and_weights(line)
    _long_numbers(line)
    _places(line)


def _is_degrees(piece: Piece | None) -> bool:
    return piece is not None and (piece.text in ("DEG", "DEGREES") or (piece.text == "°" and piece.is_glued))


def _bare(piece: Piece | None) -> bool:
    """A number without a unit that no rule took."""
    return piece is not None and piece.kind == "number" and not piece.unit and not piece.role


def _whole(piece: Piece | None) -> int | None:
    if piece is None or not _bare(piece) or piece.number is None:
        return None
    return piece.number.whole


def _money(line: TypedLine, index: int) -> None:
    after, before = line.at(index + 1), line.at(index - 1)
    for piece in (after, before):
        if piece is not None and _bare(piece) and piece.number is not None and not piece.number.is_fraction:
            line.take("price", line.pieces[index], piece)
            return


def _year(line: TypedLine, index: int, piece: Piece) -> None:
    for near in (line.at(index + 1), line.at(index - 1)):
        whole = _whole(near)
        if whole is not None and (whole in YEARS or piece.text in ("REV", "REVISION", "ISSUE")):
            line.take("date", piece, near)
            before = line.at(index - 1)
            day = _whole(before)
            if day is not None and day <= 31 and before is not near:
                line.take("date", before)
            return
    letter = line.at(index + 1)
    is_letter = letter is not None and letter.kind == "word" and len(letter.text) == 1
    line.take("date", piece, letter if is_letter and piece.text in ("REV", "REVISION", "ISSUE") else None)


def _quantity(line: TypedLine, index: int, piece: Piece) -> None:
    after, before = line.at(index + 1), line.at(index - 1)
    if piece.gap == "-" and piece.text.startswith("PIECE") and before is not None and _whole(before) == 2:
        line.say("bore_type", "split", before, piece)
        return
    is_first = piece.text in (
        "QTY",
        "QUANTITY",
        "MENGE",
        "ANZAHL",
        "QTE",
        "CANT",
        "CANTIDAD",
        "QTA",
        "QUANTITE",
    )
    chosen = after if is_first else before
    if _whole(chosen) is None and not is_first:
        chosen = (
            after
            if _whole(after) is not None and after is not None and not _labelled(line, index + 1)
            else None
        )
    if chosen is not None and _whole(chosen) is not None:
        line.take("quantity", piece, chosen)
    elif piece.topic == "quantity":
        line.take("quantity", piece)


def _labelled(line: TypedLine, index: int) -> bool:
    after = line.at(index + 1)
    return after is not None and bool(after.topic) and after.topic != "filler"


def _leading_quantity(line: TypedLine) -> None:
    """2 SPROCKETS, 2 X SPKT: a small number before the noun that begins the line."""
    first = line.at(0)
    whole = _whole(first)
    if whole is None or whole > 24:
        return
    second, third = line.at(1), line.at(2)
    if second is not None and second.topic == "x" and third is not None and third.topic == "part":
        line.take("quantity", first, second)
    elif second is not None and second.topic == "part":
        line.take("quantity", first)


def _powers_and_weights(line: TypedLine) -> None:
    for _, piece in line.of_kind("number"):
        if piece.unit in ("power", "length"):
            line.take(piece.unit, piece)
        elif piece.unit in ("kg", "lb") and piece.number is not None:
            factor = 1.0 if piece.unit == "kg" else 0.45359237
            line.say("mass_kg", round(float(piece.number.value) * factor, 3), piece)
    for _, piece in line.unread("weight"):
        line.take("mass_kg", piece)
    _kilowatts(line)


def _kilowatts(line: TypedLine) -> None:
    """5.5 KW beside MOTOR, where no key is so wide."""
    motors = [index for index, piece in line.unread("part") if piece.meaning.value == "motor"]
    for index, piece in line.unread("key"):
        power = line.at(index - 1)
        number = power.number if _bare(power) and power is not None else None
        is_near = any(abs(index - at) <= KW_FROM_MOTOR for at in motors)
        is_power = number is not None and number.form == "decimal" and not is_key_width(float(number.value))
        if piece.text == "KW" and is_near and is_power:
            line.take("power", power, piece)


def _standards(line: TypedLine) -> None:
    for index, _piece in line.unread("standard", "bs"):
        number_at = index + 1
        letter = line.at(number_at)
        if letter is not None and letter.kind == "word" and letter.text in ("B", "R", "EN", "ISO", "E"):
            number_at += 1
        number = line.at(number_at)
        if number is not None and _bare(number) and number.number is not None:
            if number.number.digits not in STANDARD_NUMBERS:
                continue
            taken = line.pieces[index : number_at + 1]
            part = line.at(number_at + 1)
            if (
                part is not None
                and part.text in ("BL", "BLATT", "TEIL", "T", "PART")
                and _whole(line.at(number_at + 2))
            ):
                taken = [*taken, part, line.pieces[number_at + 2]]
            elif part is not None and part.gap in ("-", "/") and (_whole(part) or 99) < 10:
                taken = [*taken, part]
            line.take("standard", *taken)


def _bearing_numbers(line: TypedLine) -> None:
    for _, piece in line.of_kind("bearing"):
        line.take("bearing_number", piece)
    for index, piece in enumerate(line.pieces):
        if piece.topic == "bearing":
            for near in (line.at(index + 1), line.at(index - 1)):
                whole = _whole(near)
                if whole is not None and 6000 <= whole <= 6499:
                    line.take("bearing_number", near)


def _part_numbers(line: TypedLine) -> None:
    for index, piece in line.unread("part_number"):
        at = index + 1
        while (near := line.at(at)) is not None and (near.topic == "number_of" or near.text in ("#", "°")):
            at += 1
        first = line.at(at)
        if first is None or (first.breaks and ":" not in first.gap):
            line.take("part_number", piece)
            continue
        end = at + 1
        while (near := line.at(end)) is not None and near.gap in ("", "-", ".", "/", "_"):
            end += 1
        taken = line.pieces[at:end]
        if any(one.kind != "word" for one in taken) or (len(first.text) <= 2 and not first.topic):
            line.take("part_number", *line.pieces[index:at], *taken)
        else:
            line.take("part_number", piece)


def _long_numbers(line: TypedLine) -> None:
    """A run of five and more digits, or of digits with a dash before 0 or four digits, is a number of the storeroom."""
    for index, piece in line.of_kind("number"):
        if piece.number is None or piece.unit or piece.number.form != "integer":
            continue
        after = line.at(index + 1)
        if len(piece.number.digits) >= SHORTEST_PART_NUMBER:
            line.take("part_number", piece)
            if after is not None and after.gap == "-" and _whole(after) is not None:
                line.take("part_number", after)
        elif (
            _whole(after) is not None and after is not None and after.gap == "-" and after.number is not None
        ):
            digits = after.number.digits
            if len(digits) >= 3 and (digits[0] == "0" or len(digits) >= SHORTEST_PART_NUMBER):
                line.take("part_number", piece, after)


def _places(line: TypedLine) -> None:
    has_chain = any(piece.kind == "code" for piece in line.pieces)
    for index, piece in line.unread("place"):
        line.take("place", piece)
        _place_before(line, index)
        at = index + 1
        skipped: list[Piece] = []
        while (near := line.at(at)) is not None and (
            near.topic == "number_of"
            or near.text in ("#", "°")
            or (
                near.kind == "word"
                and len(near.text) == 1
                and near.topic in ("", "filler")
                and not near.breaks
            )
        ):
            skipped.append(near)
            at += 1
        number = line.at(at)
        digits = number.number.digits if number is not None and number.number is not None else ""
        if (
            number is None
            or _whole(number) is None
            or len(digits) > LONGEST_PLACE_NUMBER
            or number.breaks
            or _names_something(line, at)
        ):
            continue
        if digits in CHAIN_NUMBERS and not has_chain:
            if not any(one.text == "#" for one in skipped):
                line.ask("number_has_two_readings", text=digits)
            continue
        line.take("place", *skipped, number)
        part = line.at(at + 1)
        if part is not None and part.number is not None and part.number.form == "fraction" and not skipped:
            line.ask("number_has_two_readings", text=line.original([number, part])[0])
        letter = line.at(at + 1)
        if letter is not None and letter.is_glued and len(letter.text) == 1:
            line.take("place", letter)


def _place_before(line: TypedLine, index: int) -> None:
    """8TH FLOOR, NO 2 LINE"""
    before, number = line.at(index - 1), line.at(index - 2)
    if before is None:
        return
    if before.text in ("ST", "ND", "RD", "TH") and before.is_glued and _whole(number) is not None:
        whole = _whole(number) or 0
        if before.text == "TH" and whole > MOST_ORDINAL:
            return
        if before.text == "TH" and not _has_other_teeth(line, index):
            line.ask("number_has_two_readings", text=line.original([before, number])[0] if number else "")
        line.take("place", before, number)
    elif _whole(before) is not None and number is not None and number.topic == "number_of":
        line.take("place", before, number)


def _has_other_teeth(line: TypedLine, index: int) -> bool:
    return any(piece.topic == "teeth" for at, piece in enumerate(line.pieces) if at != index - 1) or any(
        piece.code and piece.code.teeth for piece in line.pieces
    )


def _names_something(line: TypedLine, index: int) -> bool:
    """Whether the number behind a place belongs to the word after it: 17 T, 25 BORE, 25 H7."""
    after, second = line.at(index + 1), line.at(index + 2)
    if after is None or after.breaks:
        return False
    whole = _whole(line.at(index))
    if after.topic == "teeth":
        is_count = whole is not None and whole > GREATEST_PLACE
        return is_count and (after.is_glued or second is None or second.number is None)
    if after.topic in ("bore", "key", "max_bore", "pitch"):
        return after.meaning.value != "plain" and whole is not None and whole > GREATEST_PLACE
    return after.topic in ("chain", "strand_count", "counted", "x") or after.kind == "fit"
