"""Material, its grade and the hardness of the teeth."""

from functools import cache

from inventory.descriptions.lexicon import lexicon_rows
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine

NUMBERED = ("number_of", "place", "part_number")
"""A number behind these words is no grade."""


@cache
def _grades() -> dict[str, tuple[str, str]]:
    return {row["written"]: (row["material"], row["grade"]) for row in lexicon_rows("grades")}


def read_materials(line: TypedLine) -> None:
    _stainless(line)
    for index, piece in line.of_kind("grade"):
        before = line.at(index - 1)
        if piece.text.isdigit() and before is not None and (before.text == "ID" or before.topic in NUMBERED):
            continue
        material, grade = _grades()[piece.text]
        _say_material(line, material, piece)
        _say_grade(line, grade, piece)
    for index, piece in line.unread("material"):
        material, _, grade = piece.meaning.value.partition("/")
        if material == "bronze" and line.value_of("bore_type") == "bearing":
            line.take("bore_type", piece)
            continue
        _say_material(line, material, piece)
        if grade:
            _say_grade(line, grade, piece)
        if material == "stainless_steel":
            _grade_beside(line, index)


def _say_material(line: TypedLine, material: str, piece: Piece) -> None:
    """Steel after a kind of steel adds nothing; two kinds contradict."""
    said = line.value_of("material")
    before = line.at(line.pieces.index(piece) - 1)
    if before is not None and before.role == "material" and "/" in piece.gap:
        line.ask("word_has_two_readings", text=line.original([before, piece])[0])
    steels = ("carbon_steel", "stainless_steel", "alloy_steel", "sintered_steel")
    is_plain = material == "carbon_steel" and piece.kind == "word"
    if is_plain and said in steels:
        line.take("material", piece)
    elif said == "carbon_steel" and material in steels and _is_plain_word(line):
        del line.attributes["material"]
        line.say("material", material, piece)
    else:
        line.say("material", material, piece)


def _is_plain_word(line: TypedLine) -> bool:
    return line.attributes["material"].text.upper() not in _grades()


def _say_grade(line: TypedLine, grade: str, piece: Piece) -> None:
    line.say("material_grade", grade, piece)


def _number_grade(piece: Piece | None) -> str | None:
    if piece is None or piece.role or piece.unit or piece.number is None:
        return None
    digits = piece.number.digits
    return digits if digits in _grades() and _grades()[digits][0] == "stainless_steel" else None


def _stainless(line: TypedLine) -> None:
    """SS is stainless steel with a grade behind it, or anywhere in the line; what stays open is asked."""
    for index, piece in line.unread("ss"):
        beside = _number_grade(line.at(index + 1))
        grades = [one for _, one in line.of_kind("number") if _number_grade(one)]
        named = [
            one for one in line.pieces if one.kind == "grade" and _grades()[one.text][0] == "stainless_steel"
        ]
        if beside or grades or named:
            line.say("material", "stainless_steel", piece)
            chosen = line.at(index + 1) if beside else grades[0] if grades else None
            if chosen is not None and chosen.number is not None:
                _say_grade(line, _grades()[chosen.number.digits][1], chosen)
        elif line.has("material") and any(
            one.topic == "material" and one.meaning.value == "stainless_steel" for one in line.pieces
        ):
            line.say("set_screw", True, piece, basis="implied")
        else:
            line.ask("word_has_two_readings", text=line.original([piece])[0])


def read_lone_grade(line: TypedLine) -> None:
    """A 304 that nothing else explains is stainless steel, to be confirmed."""
    for _, piece in line.of_kind("number"):
        digits = _number_grade(piece)
        if digits and "material" not in line.attributes and digits != "420":
            line.say("material", "stainless_steel", piece, basis="implied", confidence=0.7)
            line.say("material_grade", _grades()[digits][1], piece, basis="implied", confidence=0.7)
            line.ask("number_has_two_readings", text=digits)


def _grade_beside(line: TypedLine, index: int) -> None:
    """STAINLESS 316, STAINLESS A4, 304 STAINLESS."""
    after, before = line.at(index + 1), line.at(index - 1)
    for near in (after, before):
        digits = _number_grade(near)
        if near is not None and digits:
            _say_grade(line, _grades()[digits][1], near)
            return
    number = line.at(index + 2)
    if after is not None and after.text == "A" and number is not None and number.is_glued and number.number:
        written = f"A{number.number.digits}"
        if written in _grades():
            line.say("material_grade", _grades()[written][1], after, number, basis="implied")
    if (
        after is not None
        and after.text == "AISI"
        and _number_grade(number)
        and number is not None
        and number.number
    ):
        _say_grade(line, _grades()[number.number.digits][1], number)


def read_hardness(line: TypedLine) -> None:
    for index, piece in line.unread("hrc"):
        for near in (line.at(index + 1), line.at(index - 1)):
            if (
                near is not None
                and near.number is not None
                and not near.role
                and 20 <= near.number.value <= 70
            ):
                line.say("hardened_teeth", True, near, piece, basis="implied")
                second = line.at(line.pieces.index(near) + (1 if near.start > piece.start else -1))
                if (
                    second is not None
                    and second.number is not None
                    and not second.role
                    and "-" in (second.gap + near.gap)
                ):
                    line.take("hardened_teeth", second)
                break
    for _, piece in line.unread("hardened"):
        line.say("hardened_teeth", piece.meaning.value == "yes", piece)
    for _, piece in line.unread("h"):
        line.ask("word_has_two_readings", text=line.original([piece])[0])
