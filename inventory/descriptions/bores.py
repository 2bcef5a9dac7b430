"""What kind of bore it is, and lengths without a word that can only be the bore."""

from inventory.descriptions.chain_of_line import is_pitch
from inventory.descriptions.labelled_lengths import BUSH_SLACK_MM, bush_range_mm, length_of, say_length
from inventory.descriptions.lengths import in_mm
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.standards.chains import find_chain

PLAIN_VALUES = ("plain", "solid")
KEY_FITS = frozenset({"P9", "JS9", "N9", "D10"})
"""Of keyways in ISO 773 and DIN 6885."""


def read_bore_letter(line: TypedLine) -> None:
    """3/4 B: the letter behind a length is the bore, where it is no hub type."""
    for index, piece in enumerate(line.pieces):
        if piece.role or piece.kind != "word" or piece.text != "B" or piece.topic:
            continue
        before = line.at(index - 1)
        is_length = (
            before is not None
            and before.number is not None
            and not before.role
            and (before.unit in ("in", "mm") or before.number.is_fraction)
        )
        if is_length and before is not None and not piece.breaks and "bore_mm" not in line.attributes:
            say_length(line, "bore_mm", before, piece)


def read_bore_words(line: TypedLine) -> None:
    for _, piece in line.unread("bore"):
        value = piece.meaning.value
        if value in PLAIN_VALUES:
            line.say("bore_type", "plain", piece, basis="stated" if value == "plain" else "implied")
        elif value in ("finished", "hex"):
            if value == "finished" and line.value_of("bore_type") in ("split", "bearing", "tapered", "qd"):
                line.take("bore_type", piece)
                continue
            line.say("bore_type", value, piece)
        elif value == "other":
            line.ask("bore_not_in_vocabulary", text=line.original([piece])[0])
            line.take("bore_type", piece)
        else:
            line.take("bore_mm", piece)
    for _, piece in line.unread("shaft"):
        line.take("shaft", piece)


def _fit_of(line: TypedLine, index: int) -> str:
    """The tolerance class behind a bare number: H7 is that of a bore, P9 that of a keyway."""
    after = line.at(index + 1)
    return after.text if after is not None and after.kind == "fit" and not after.breaks else ""


def read_key_by_fit(line: TypedLine) -> None:
    """6P9 without a word."""
    if "keyway_width_mm" in line.attributes:
        return
    for index, piece in line.of_kind("number"):
        if _fit_of(line, index) in KEY_FITS:
            say_length(line, "keyway_width_mm", piece)
            line.say("keyway", True, piece, basis="implied")


def read_unlabelled_lengths(line: TypedLine) -> None:
    """One length with a mark of its unit, and no bore yet: 1-7/16, 25MM; a bare number behind a bush is its bore."""
    if any(name in line.attributes for name in ("bore_mm", "hex_across_flats_mm")):
        return
    found = [
        (index, piece)
        for index, piece in line.of_kind("number")
        if _is_marked_length(piece) or _fit_of(line, index).startswith("H")
    ]
    if len(found) == 1:
        _say_unlabelled(line, *found[0])
    elif not found and isinstance(line.value_of("bush_size"), str):
        _bore_of_bush(line)


def _is_marked_length(piece: Piece) -> bool:
    assert piece.number is not None
    return (
        piece.unit in ("in", "mm")
        or piece.number.is_fraction
        or (
            piece.number.form == "decimal"
            and 0.3 <= piece.number.value <= 8
            and len(piece.number.digits) >= 5
        )
    )


def _say_unlabelled(line: TypedLine, index: int, piece: Piece) -> None:
    chain, before, cross = line.value_of("chain"), line.at(index - 1), line.at(index - 1)
    if cross is not None and cross.topic == "x" and not cross.role:
        before = line.at(index - 2)
    is_attached = (
        before is not None and before.kind == "code" and (piece.gap.strip() == "-" or before is not cross)
    )
    length = length_of(line, piece, "bore_mm")
    is_attached |= before is not None and before.topic == "bearing"
    if chain is None and is_pitch(length.mm) and "pitch_mm" not in line.attributes:
        line.say("pitch_mm", round(length.mm, 6), piece, basis="assumed")
        line.ask("length_has_two_readings", text=line.original([piece])[0])
        return
    if isinstance(chain, str) and not is_attached and abs(find_chain(chain).pitch_mm - length.mm) < 0.05:
        line.ask("length_has_two_readings", text=line.original([piece])[0])
        line.take("bore_mm", piece)
        return
    if (
        line.has("place")
        and piece.number is not None
        and piece.number.form == "mixed"
        and before is not None
        and before.role == "place"
    ):
        line.ask("number_has_two_readings", text=line.original([piece])[0])
    say_length(line, "bore_mm", piece)
    if before is not cross:
        line.take("bore_mm", cross)


def _bore_of_bush(line: TypedLine) -> None:
    limits = bush_range_mm(str(line.value_of("bush_size")))
    found = [
        piece for index, piece in line.of_kind("number") if not piece.unit and _stands_by_bush(line, index)
    ]
    if limits is None or len(found) != 1 or found[0].number is None:
        return
    length = in_mm(found[0].number.value, "mm")
    if limits[0] - BUSH_SLACK_MM <= length <= limits[1] + BUSH_SLACK_MM:
        line.say("bore_mm", round(length, 6), found[0], basis="implied")


def _stands_by_bush(line: TypedLine, index: int) -> bool:
    before = line.at(index - 1)
    while before is not None and before.topic in ("x", "bush", "with", "filler") and index > 0:
        index -= 1
        before = line.at(index - 1)
    return before is not None and before.role in ("bush_size", "bore_type")


def settle_bore_type(line: TypedLine) -> None:
    """Without a word for it: hexagon, bore or keyway make it finished; a code alone is the part with a plain bore."""
    if "hex_across_flats_mm" in line.attributes:
        source = line.attributes["hex_across_flats_mm"]
        if "bore_type" not in line.attributes:
            line.say("bore_type", "hex", *_pieces_in(line, source.span))
    if "bore_type" in line.attributes or any(
        fact.code == "bore_not_in_vocabulary" for fact in line.questions
    ):
        return
    for name in ("bore_mm", "keyway_width_mm", "keyway"):
        found = line.attributes.get(name)
        if found is not None and found.value is not False and line.value_of("role_kind") != "idler":
            line.say("bore_type", "finished", *_pieces_in(line, found.span), basis="implied")
            return
    _stock_part(line)


def _pieces_in(line: TypedLine, span: tuple[int, int] | None) -> list[Piece]:
    if span is None:
        return []
    return [piece for piece in line.pieces if span[0] <= piece.start and piece.end <= span[1]]


def _stock_part(line: TypedLine) -> None:
    """D60B20 with nothing but its hub style and a suffix is the catalogue part, bored for machining only."""
    codes = [piece for piece in line.pieces if piece.code and piece.code.type in ("A", "B", "C")]
    others = [
        piece
        for piece in line.pieces
        if piece not in codes
        and piece.topic not in ("part", "hub_style", "chain")
        and piece.text not in ("HT", "H", ",", "STEEL TYPE")
    ]
    if len(codes) == 1 and not others and not codes[0].code.are_teeth_unknown:  # type: ignore[union-attr]
        line.say("bore_type", "plain", codes[0], basis="implied", confidence=0.75)
