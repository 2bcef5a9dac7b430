"""Teeth and strands, in words and in the code."""

from inventory.descriptions.asides import CHAIN_NUMBERS
from inventory.descriptions.codes import TWO_SINGLE_ROWS, ChainCode
from inventory.descriptions.lexicon import Meaning
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.standards.chains import find_chain
from inventory.standards.tooth_counts import COUNTED_TEETH

FEWEST_UNMARKED, MOST_UNMARKED = 8, 150
"""Of a bare number behind the chain. Judgement."""
MOST_ROWS = 8
HUB_OF_COUNT = {"1": "B", "2": "C", "dbl": "C"}
"""SINGLE HUB and DOUBLE HUB, where no phrase knows the words."""
LABELS_BEFORE = frozenset({"Z"})
NUMBER_FIRST_WORDS = ("ZAHL", "NOMBRE", "NBRE", "NUMERO", "NUM", "NO ", "NB ", "NR")


def read_teeth(line: TypedLine) -> None:
    _short_for_dents(line)
    labels = list(line.unread("teeth"))
    # TEETH HARDENED says nothing of their number where that stands elsewhere.
    labels.sort(key=lambda one: _is_of_hardness(line, one[0]))
    for index, piece in labels:
        if _is_of_hardness(line, index) and "teeth" in line.attributes:
            line.take("hardened_teeth", piece)
            continue
        number = _teeth_number(line, index, piece)
        if number is not None and number.number is not None and number.number.whole is not None:
            say_teeth(line, number.number.whole, *sorted((number, piece), key=lambda one: one.start))
    for _, piece in line.unread("teeth"):
        if len(piece.text) > 1:
            line.take("teeth", piece)


def _short_for_dents(line: TypedLine) -> None:
    """19D in a French or Spanish line, where no other word counts teeth; elsewhere it is asked about."""
    if line.has("teeth") or not line.languages & {"fr", "es"}:
        return
    for index, piece in enumerate(line.pieces):
        after = line.at(index + 1)
        if _is_d_of_count(line, index) and (after is None or not after.is_glued):
            piece.meaning = Meaning("teeth", "", ("es", "fr"))


def _is_d_of_count(line: TypedLine, index: int) -> bool:
    piece, number = line.at(index), line.at(index - 1)
    return piece is not None and piece.text == "D" and piece.is_glued and _is_count(number)


def _is_of_hardness(line: TypedLine, index: int) -> bool:
    before, after = line.at(index - 1), line.at(index + 1)
    is_before = before is not None and before.topic == "hardened" and not line.pieces[index].breaks
    return is_before or (after is not None and after.topic in ("hardened", "hrc") and not after.breaks)


def say_teeth(line: TypedLine, teeth: int, *pieces: Piece) -> None:
    least, most = COUNTED_TEETH
    if not least <= teeth <= most:
        line.ask("teeth_out_of_range", teeth=teeth, least=least, most=most)
        line.take("teeth", *pieces)
        return
    line.say("teeth", teeth, *pieces)


def _is_count(piece: Piece | None) -> bool:
    return (
        piece is not None
        and piece.number is not None
        and not piece.role
        and not piece.unit
        and piece.number.form == "integer"
    )


def _teeth_number(line: TypedLine, index: int, label: Piece) -> Piece | None:
    before_at = index - 1
    while (near := line.at(before_at)) is not None and near.topic in ("counted",) and not near.role:
        before_at -= 1
    before, after = line.at(before_at), line.at(index + 1)
    while (
        after is not None
        and (
            after.topic in ("counted", "number_of")
            or (after.topic == "filler" and min(len(after.text), len(label.text)) > 1)
        )
        and after.start > label.start
    ):
        after = line.at(line.pieces.index(after) + 1)
    left = before if _is_count(before) and not label.breaks else None
    right = after if _is_count(after) else None
    if (
        left is not None
        and not label.is_glued
        and (_is_spoken_for(line, left) if right else not _could_be_teeth(line, left))
    ):
        left = None
    if left is None or right is None:
        return left or right
    if any(sign in right.gap for sign in "=:") or (right.is_glued and not label.is_glued):
        return right
    if label.is_glued or label.gap == "-":
        return left
    if label.text.startswith(NUMBER_FIRST_WORDS) or not _could_be_teeth(line, left):
        return right
    if _belongs_on(line, right):
        return left
    from_chain = (
        left.number is not None and left.number.digits in CHAIN_NUMBERS and "chain" not in line.attributes
    )
    return right if from_chain else left


def _is_spoken_for(line: TypedLine, number: Piece) -> bool:
    """Whether the number belongs to what stands before it: INOX 304, 12 X 8, BORE 25, LINE 4."""
    before = line.at(line.pieces.index(number) - 1)
    return before is not None and before.topic in (
        *(
            "x",
            "material",
            "ss",
            "key",
            "nut",
            "bore",
            "tapered",
            "bush",
            "place",
            "part_number",
            "number_of",
            "hub",
        ),
    )


def _could_be_teeth(line: TypedLine, piece: Piece) -> bool:
    whole = piece.number.whole if piece.number else None
    return whole is not None and COUNTED_TEETH[0] <= whole <= COUNTED_TEETH[1]


def _belongs_on(line: TypedLine, number: Piece) -> bool:
    """Whether the number belongs to what follows: 25 BORE, 25 H7, 2 SS, 8 X 7, 20 T."""
    after = line.at(line.pieces.index(number) + 1)
    if after is None or after.breaks:
        return False
    return after.kind == "fit" or after.topic in (
        *(
            "bore",
            "key",
            "keyed",
            "nut",
            "ss",
            "set_screw",
            "x",
            "teeth",
            "strand_count",
            "quantity",
            "shaft",
            "max_bore",
            "diameter",
            "hub",
        ),
    )


def read_counting(line: TypedLine) -> None:
    """Double pitch: effective or actual teeth, single or double cut."""
    for _, piece in line.unread("counted"):
        line.say("teeth_counted", piece.meaning.value, piece)
    for _, piece in line.unread("single_cut"):
        line.say("single_cut", piece.meaning.value == "yes", piece)
    for _, piece in line.unread("double_pitch"):
        line.take("chain", piece)
    for _, piece in line.unread("roller"):
        chain = find_chain(str(line.value_of("chain"))) if "chain" in line.attributes else None
        is_other = chain is not None and chain.has_large_rollers != (piece.meaning.value == "large")
        if chain is not None and is_other and chain.is_double_pitch:
            text = line.original([piece])[0]
            line.ask("values_contradict", attribute="chain", first=chain.designation, second=text)
        line.take("chain", piece)


def read_code_counts(line: TypedLine) -> None:
    """What the first code says of teeth and strands, after the words."""
    for piece in line.pieces:
        code = piece.code
        if code is None or piece.role not in ("", "chain") or piece is not _first_code(line):
            continue
        if code.teeth is not None:
            _say_code_teeth(line, code, piece)
        if code.are_teeth_unknown:
            line.ask("teeth_not_given")
        if code.strands is not None and (code.is_strands_said or "strands" not in line.attributes):
            line.say("strands", code.strands, piece, basis="stated" if code.is_strands_said else "implied")


def _first_code(line: TypedLine) -> Piece | None:
    return next((piece for piece in line.pieces if piece.code), None)


def _say_code_teeth(line: TypedLine, code: ChainCode, piece: Piece) -> None:
    assert code.teeth is not None
    if code.are_teeth_marked:
        line.say("teeth", code.teeth, piece)
    elif "teeth" not in line.attributes:
        line.say("teeth", code.teeth, piece, basis="implied", confidence=0.8)
        line.ask("teeth_not_marked", teeth=code.teeth)
    else:
        line.say("teeth", code.teeth, piece)


def read_unmarked_teeth(line: TypedLine) -> None:
    """A bare number right behind the chain is its teeth, to be confirmed: ANSI 40 17."""
    if "teeth" in line.attributes:
        return
    for index, piece in line.of_kind("number"):
        before = line.at(index - 1)
        if before is not None and before.topic == "x":
            before = line.at(index - 2)
        whole = piece.number.whole if piece.number else None
        stands_by_chain = before is not None and before.role in ("chain", "strands")
        if whole is None or piece.unit or not (stands_by_chain or _is_d_of_count(line, index + 1)):
            continue
        if FEWEST_UNMARKED <= whole <= MOST_UNMARKED:
            line.say("teeth", whole, piece, basis="implied", confidence=0.7)
            line.ask("teeth_not_marked", teeth=whole)
            return


def read_strands(line: TypedLine) -> None:
    for index, piece in line.unread("strand_count"):
        number = line.at(index - 1)
        if number is not None and number.number is not None and not number.role and not number.unit:
            whole = number.number.whole
            if whole is not None and 1 <= whole <= MOST_ROWS:
                line.say("strands", whole, number, piece)
        elif number is not None and number.topic == "strands":
            line.take("strands", piece)
        else:
            line.ask("word_not_understood", text=line.original([piece])[0])
    for index, piece in line.unread("strands"):
        value, after = piece.meaning.value, line.at(index + 1)
        if after is not None and after.topic == "hub" and value in HUB_OF_COUNT:
            line.say("hub_style", HUB_OF_COUNT[value], piece, after)
        elif value == "dbl":
            _double(line, piece)
        elif value == "doppel":
            line.ask("word_has_two_readings", text=line.original([piece])[0])
            line.take("strands", piece)
        else:
            line.say("strands", value if value == TWO_SINGLE_ROWS else int(value), piece)


def _double(line: TypedLine, piece: Piece) -> None:
    """DBL and DOUBLE: two strands, where no double pitch is meant."""
    chain = line.value_of("chain")
    if isinstance(chain, str) and find_chain(chain).is_double_pitch:
        line.take("chain", piece)
        return
    line.say("strands", 2, piece, confidence=0.8)
    text, said = line.original([piece])[0], line.attributes.get("strands")
    if "fr" not in line.languages and said is not None and said.text == text:
        line.ask("word_has_two_readings", text=text)


def check_double_pitch(line: TypedLine) -> None:
    chain = line.value_of("chain")
    is_double = isinstance(chain, str) and find_chain(chain).is_double_pitch
    said_so = any(piece.topic == "double_pitch" for piece in line.pieces)
    teeth = line.value_of("teeth")
    if said_so and isinstance(chain, str) and not is_double:
        line.ask("values_contradict", attribute="chain", first=chain, second="double pitch")
    if is_double and "teeth_counted" not in line.attributes and isinstance(teeth, int):
        line.ask("effective_or_actual_teeth", teeth=teeth)


def ask_strand_or_bore(line: TypedLine) -> None:
    """60-1 1/2: one strand and a bore of 1/2, or a bore of 1-1/2."""
    for index, piece in enumerate(line.pieces):
        after = line.at(index + 1)
        if piece.code is None or piece.code.strands is None or after is None or after.number is None:
            continue
        is_part = (
            after.number.form == "fraction"
            and after.gap == " "
            and piece.text.endswith(str(piece.code.strands))
        )
        pair = line.at(index + 2)
        if (
            is_part
            and after.role in ("", "bore_mm")
            and "-" in piece.text
            and not (pair is not None and pair.topic == "x")
        ):
            line.ask("number_has_two_readings", text=line.original([piece, after])[0])
