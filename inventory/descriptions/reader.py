"""A typed line as the attributes of a sprocket, each with the piece of text behind it; a question rather than a guess.

Order and language are free. A line is `parsed` only if nothing in it is in doubt and every number in it was understood;
what names another part is `rejected` with the reason among its questions.
"""

from inventory.descriptions.asides import read_asides
from inventory.descriptions.bores import (
    read_bore_letter,
    read_bore_words,
    read_key_by_fit,
    read_unlabelled_lengths,
    settle_bore_type,
)
from inventory.descriptions.chain_of_line import (
    chain_from_pitch,
    read_bare_chain_number,
    read_chain_codes,
    read_pitch,
    read_pitch_before_code,
    read_pitch_by_width,
)
from inventory.descriptions.labelled_lengths import read_labelled_lengths, read_other_dimensions
from inventory.descriptions.letters import key_of
from inventory.descriptions.lexicon import resembles_attribute
from inventory.descriptions.mounting_words import (
    read_bushes,
    read_code_type,
    read_hub_style,
    read_mounting,
    taper_sizes,
)
from inventory.descriptions.plausibility import check_sizes
from inventory.descriptions.reading import DescriptionReading, ReadOutcome
from inventory.descriptions.rim_material import read_hardness, read_lone_grade, read_materials
from inventory.descriptions.set_screws import read_keyed, read_set_screws
from inventory.descriptions.teeth_and_strands import (
    ask_strand_or_bore,
    check_double_pitch,
    read_code_counts,
    read_counting,
    read_strands,
    read_teeth,
    read_unmarked_teeth,
)
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.descriptions.what_part import rejection

NEGATED = frozenset(
    {
        "hardened",
        "key",
        "keyed",
        "nut",
        "set_screw",
        "ss",
        "bush",
        "tapered",
        "bore",
        "hub",
        "hub_style",
        "material",
        "bearing",
        "split",
        "weld_on",
        "strands",
    }
)
BUSHED = ("tapered", "qd", "bearing")


def read_negations(line: TypedLine) -> None:
    """WITHOUT and NOT before what the part has, where no phrase knows it: nothing is read from it."""
    for index, piece in line.unread("without"):
        after, third = line.at(index + 1), line.at(index + 2)
        if third is not None and third.topic == "bush" and after is not None and after.text in taper_sizes():
            line.say("bush_included", False, piece)
            continue
        if after is None or not (after.topic in NEGATED or after.kind in ("code", "number", "grade")):
            continue
        line.ask("word_not_understood", text=line.original([piece, after])[0])
        if after.kind == "word":
            line.take("negated", piece, after)


RULES = (
    read_negations,
    read_chain_codes,
    read_asides,
    read_teeth,
    read_pitch_by_width,
    read_counting,
    read_strands,
    read_code_type,
    read_code_counts,
    read_bushes,
    read_mounting,
    read_hub_style,
    lambda line: read_bare_chain_number(line, early=True),
    read_pitch,
    read_pitch_before_code,
    read_set_screws,
    read_keyed,
    read_hardness,
    read_materials,
    read_labelled_lengths,
    read_other_dimensions,
    read_bore_letter,
    lambda line: read_bare_chain_number(line, early=False),
    read_bore_words,
    read_key_by_fit,
    read_unlabelled_lengths,
    chain_from_pitch,
    read_unmarked_teeth,
    read_lone_grade,
    settle_bore_type,
)
"""In order: what is certain by its form first, then what has its word, then what is left."""
TAPERED_ALONE = frozenset({"TAPERED", "TAPER"})
"""Beside a bore and without the size of a bush: a bore that tapers, or a bush."""
LONGEST_LINE = 500
"""Characters of a line that callers should let in: the longest text field for a description has 200."""
DOUBT_SIGNS = frozenset("?~")
HARMLESS = frozenset(
    {
        "filler",
        "with",
        "without",
        "for",
        "joiner",
        "x",
        "type",
        "hub",
        "set",
        "number_of",
        "unit",
        "place",
        "diameter",
        "length",
        "standard",
        "bs",
        "chain",
        "part",
        "shaft",
        "dp",
    }
)


def read_description(text: str) -> DescriptionReading:
    """The attributes of one typed line, whatever it holds: reading never fails.

    >>> reading = read_description("SPKT D60B20 1-7/16 KW")
    >>> reading.outcome, reading.attributes["strands"].value, reading.attributes["bore_mm"].value
    ('parsed', 2, 36.5125)
    """
    line = TypedLine(text)
    for rule in RULES:
        rule(line)
    reason = rejection(line)
    if reason is not None:
        return DescriptionReading("rejected", {}, (reason,), ())
    _ask_what_is_missing(line)
    check_double_pitch(line)
    ask_strand_or_bore(line)
    check_sizes(line)
    _ask_of_doubts(line)
    for _, piece in line.of_kind("fit"):
        line.take("fit", piece)
    unread = [piece for piece in line.left_over() if not _is_nothing(piece)]
    _ask_of_words(line, unread)
    numbers = [piece for piece in unread if _carries_number(line, piece)]
    if numbers:
        line.ask("numbers_not_read", pieces=", ".join(line.original([piece])[0] for piece in numbers))
    if "strands" not in line.attributes:
        line.say("strands", 1, basis="assumed")
    outcome: ReadOutcome = "needs_review" if line.questions else "parsed"
    return DescriptionReading(
        outcome, line.attributes, tuple(line.questions), tuple(line.unread_piece(piece) for piece in unread)
    )


def _ask_what_is_missing(line: TypedLine) -> None:
    codes = {fact.code for fact in line.questions}
    if "chain" not in line.attributes and not codes & {"chains_contradict", "which_chain_is_meant"}:
        line.ask("chain_not_given")
    if "teeth" not in line.attributes and not codes & {"teeth_not_given", "teeth_out_of_range"}:
        line.ask("teeth_not_given")


def _ask_of_doubts(line: TypedLine) -> None:
    for piece in line.pieces:
        is_doubt = piece.topic in ("doubt", "replaced") or (
            piece.kind == "sign" and piece.text in DOUBT_SIGNS
        )
        if is_doubt and not piece.role:
            line.ask("doubt_in_text", text=line.original([piece])[0])
            line.take("doubt", piece)
        elif piece.topic == "set" and not piece.role:
            line.take("set", piece)


def _ask_of_words(line: TypedLine, unread: list[Piece]) -> None:
    """Badly typed words that may say something, and words such as WITHOUT before what the part has."""
    for piece in unread:
        if piece.kind == "word" and not piece.topic and resembles_attribute(key_of(piece.text)):
            line.ask("word_not_understood", text=line.original([piece])[0])
    for piece in line.pieces:
        if piece.topic == "bush" and not piece.role and line.value_of("bore_type") not in BUSHED:
            line.ask("word_has_two_readings", text=line.original([piece])[0])
        elif piece.text in ("I", "L") and not piece.role and _touches_number(line, piece):
            line.ask("word_not_understood", text=piece.text)
        elif piece.text in TAPERED_ALONE and {"bore_mm", "bush_size"} & {*line.attributes} == {"bore_mm"}:
            line.ask("word_has_two_readings", text=line.original([piece])[0])
        elif piece.text in ("B", "C", "F", "J") and not piece.role and line.original([piece])[0].isupper():
            line.ask("word_not_understood", text=piece.text)


def _touches_number(line: TypedLine, piece: Piece) -> bool:
    """I7T: a letter that may be a one."""
    before, after = line.at(line.pieces.index(piece) - 1), line.at(line.pieces.index(piece) + 1)
    is_ahead = after is not None and after.is_glued and after.kind == "number"
    return is_ahead or (piece.is_glued and before is not None and before.kind == "number")


def _is_nothing(piece: Piece) -> bool:
    return piece.topic in HARMLESS or piece.kind == "sign"


def _carries_number(line: TypedLine, piece: Piece) -> bool:
    if piece.kind != "word":
        return True
    before = line.at(line.pieces.index(piece) - 1)
    return piece.is_glued and before is not None and before.kind == "number"
