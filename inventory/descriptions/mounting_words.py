"""How a sprocket is mounted: bushes, bearings, split and welded hubs, hub styles."""

from functools import cache

from inventory.descriptions.asides import YEARS
from inventory.descriptions.codes import HUB_TYPES, QD_TYPES
from inventory.descriptions.letters import key_of
from inventory.descriptions.lexicon import lexicon
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.standards.bushes import bushes

BUSH_WORDS = ("bush", "tapered", "with_bush", "less_bush", "qd")
HUB_OF_CODE = {"A": "A", "B": "B", "C": "C", "D": "D", "BS": "B"}
ALONE_QD = frozenset({"JA", "SDS", "SK", "SF"})
"""QD sizes that say nothing else."""


@cache
def _sizes(series: str) -> frozenset[str]:
    return frozenset(bush.size for bush in bushes() if bush.series == series)


def taper_sizes() -> frozenset[str]:
    return _sizes("taper")


def read_code_type(line: TypedLine) -> None:
    """The letters between chain and teeth: hub style, bush or bearing; and those behind: hardened, stainless."""
    piece = next((one for one in line.pieces if one.code), None)
    if piece is None or piece.code is None:
        return
    kind, suffix = piece.code.type, piece.code.suffix
    if kind in HUB_OF_CODE:
        line.say("hub_style", HUB_OF_CODE[kind], piece)
    if kind == "BS":
        line.say("bore_type", "finished", piece, basis="implied")
        line.say("keyway", True, piece, basis="implied")
        line.say("set_screw", True, piece, basis="implied")
    elif kind == "BB":
        line.say("role_kind", "idler", piece, basis="implied")
        line.say("bore_type", "bearing", piece)
    elif kind.endswith("TB"):
        line.say("bore_type", "tapered", piece)
        if kind[0] in HUB_OF_CODE:
            line.say("hub_style", kind[0], piece)
    elif kind in QD_TYPES:
        line.say("bore_type", "qd", piece)
        if kind != "QD":
            line.say("bush_size", kind, piece)
    if "H" in suffix:
        line.say("hardened_teeth", True, piece)
    if "SS" in suffix:
        line.say("material", "stainless_steel", piece)


def read_bushes(line: TypedLine) -> None:
    _taper_size(line)
    _qd_size(line)
    for _, piece in line.unread("tapered"):
        line.say("bore_type", "tapered", piece)
    for _, piece in line.unread("qd"):
        line.say("bore_type", "qd", piece)
    for _, piece in line.unread("with_bush", "less_bush"):
        line.say("bush_included", piece.topic == "with_bush", piece)


def _bush_numbers(line: TypedLine) -> list[tuple[int, Piece]]:
    return [
        (index, piece)
        for index, piece in line.of_kind("number")
        if piece.number
        and not piece.unit
        and piece.number.digits in taper_sizes()
        and piece.number.form == "integer"
    ]


def _taper_size(line: TypedLine) -> None:
    found = _bush_numbers(line)
    is_bushed = (
        line.has("bush", "tapered", "with_bush", "less_bush") or line.value_of("bore_type") == "tapered"
    )
    for index, piece in found:
        assert piece.number is not None
        size = piece.number.digits
        if is_bushed:
            line.say("bush_size", size, piece)
            line.say("bore_type", "tapered", piece, basis="implied")
            _bush_words_beside(line, index)
        elif line.value_of("bore_type") is None and int(size) not in YEARS:
            line.say("bush_size", size, piece, basis="implied", confidence=0.7)
            line.say("bore_type", "tapered", piece, basis="implied", confidence=0.7)
            line.ask("bush_or_other_number", text=size)


def _bush_words_beside(line: TypedLine, index: int) -> None:
    for near in (line.at(index - 1), line.at(index + 1)):
        if near is not None and near.topic == "bush" and near.start < line.pieces[index].start:
            line.take("bush_size", near)


def _qd_size(line: TypedLine) -> None:
    has_qd = line.has("qd")
    for index, piece in enumerate(line.pieces):
        if piece.role or piece.kind != "word" or piece.text not in QD_TYPES - {"QD"}:
            continue
        before, after = line.at(index - 1), line.at(index + 1)
        is_beside = any(one is not None and one.topic in BUSH_WORDS for one in (before, after))
        is_short = len(piece.text) == 1
        if (is_beside and (has_qd or not is_short)) or (piece.text in ALONE_QD):
            line.say("bush_size", piece.text, piece)
            line.say("bore_type", "qd", piece, basis="implied")


def read_mounting(line: TypedLine) -> None:
    for _, piece in line.unread("idler"):
        line.say("role_kind", "idler", piece)
    is_idler = line.value_of("role_kind") == "idler"
    for _, piece in line.unread("bronze_bush"):
        line.say("bore_type", "bearing", piece, basis="implied")
    for _, piece in line.unread("bearing"):
        if not is_idler:
            line.ask("word_has_two_readings", text=line.original([piece])[0])
        line.say("bore_type", "bearing", piece)
    for _, piece in line.unread("split"):
        line.say("bore_type", "split", piece)
    for _, piece in line.unread("weld_on"):
        line.say("hub_style", "weld_on", piece)
    for _, piece in line.unread("shear_pin"):
        line.say("shear_pin", True, piece)


def read_hub_style(line: TypedLine) -> None:
    for index, piece in line.unread("side"):
        before, hub = line.at(index - 1), line.at(index - 2)
        count = before.number.whole if before is not None and before.number and not before.role else None
        if before is not None and hub is not None and hub.topic == "hub" and count in (1, 2):
            line.say("hub_style", "B" if count == 1 else "C", hub, before, piece)
    for index, piece in line.unread("type"):
        before, after = line.at(index - 1), line.at(index + 1)
        for letter in (after, before):
            if letter is not None and not letter.role and letter.kind == "word" and letter.text in HUB_TYPES:
                if letter is before and piece.breaks:
                    continue
                line.say("hub_style", letter.text, *sorted((piece, letter), key=lambda one: one.start))
                break
    _letter_of_hub(line)
    for _, piece in line.unread("part"):
        if key_of(piece.text) == "PLATEWHEEL":
            line.say("hub_style", "A", piece, basis="implied")
    for index, piece in line.unread("hub_style"):
        first = lexicon().words.get(key_of(piece.text.partition(" ")[0]))
        is_count = first is not None and first.topic == "strands"
        if is_count and any(one.topic == "side" for one in line.pieces[index + 1 : index + 4]):
            # DOBLE CUBO A UN LADO: two strands with a hub on one side, or two hubs.
            line.ask("word_has_two_readings", text=line.original([piece])[0])
            line.take("hub_style", piece)
            continue
        line.say("hub_style", piece.meaning.value, piece)


def _letter_of_hub(line: TypedLine) -> None:
    """HUB: B and B HUB in English, where no size follows the letter."""
    if line.languages:
        return
    for index, piece in line.unread("hub"):
        after, before, size = line.at(index + 1), line.at(index - 1), line.at(index + 2)
        is_of_size = size is not None and size.number is not None and not size.role and not size.breaks
        for letter in (before, None if is_of_size else after):
            if letter is not None and not letter.role and letter.text in ("A", "B", "C"):
                line.say("hub_style", letter.text, *sorted((piece, letter), key=lambda one: one.start))
                break
