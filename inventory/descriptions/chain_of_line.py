"""Which chain a line names: by a code, a number, pitch × width or pitch; a doubt is a question with its candidates."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from inventory.descriptions.asides import CHAIN_NUMBERS
from inventory.descriptions.codes import INCH_CHAINS, ChainCode, standard_name
from inventory.descriptions.lengths import in_mm
from inventory.descriptions.lexicon import lexicon_rows
from inventory.descriptions.mounting_words import taper_sizes
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.standards.chains import chains, find_chain

PITCH_TOLERANCE_MM = 0.03
"""Equal pitch, as in the comparison of chains."""
WIDTH_TOLERANCE_MM = 0.02
"""Tables of one chain differ by rounding; 08B and 40 differ by 0.1 mm."""
BARE_CONFIDENCE = 0.9
MARKED_NUMBERS = CHAIN_NUMBERS | {"15"}
"""A bare 15 is rather a count of teeth."""
LONGEST_ENDING = 3


@dataclass(frozen=True, slots=True)
class PitchByWidth:
    """One printed pair of pitch and inner width, with the chains that carry it; in mm."""

    pitch_mm: float
    width_mm: float
    chains: tuple[str, ...]


def _inches(text: str) -> Fraction:
    return sum((Fraction(part) for part in text.split("-")), Fraction(0))


@cache
def pairs() -> tuple[PitchByWidth, ...]:
    return tuple(
        PitchByWidth(
            in_mm(_inches(row["pitch_in"]), "in"),
            float(row["width_mm"]) if row["width_mm"] else in_mm(_inches(row["width_in"]), "in"),
            tuple(row["chains"].split()),
        )
        for row in lexicon_rows("pitch_by_width")
    )


def shown_name(designation: str) -> str:
    """The name by which a chain is asked for: 40 rather than 08A."""
    chain = find_chain(designation)
    return chain.asme_designation or chain.designation


@cache
def chains_of_pitch(pitch_mm: float) -> tuple[str, ...]:
    return tuple(
        shown_name(chain.designation)
        for chain in chains()
        if abs(chain.pitch_mm - pitch_mm) <= PITCH_TOLERANCE_MM and not chain.designation.endswith("H")
    )


@cache
def _pitches_mm() -> frozenset[float]:
    return frozenset(chain.pitch_mm for chain in chains())


def is_pitch(length_mm: float) -> bool:
    return any(abs(length_mm - pitch) <= PITCH_TOLERANCE_MM for pitch in _pitches_mm())


def read_chain_codes(line: TypedLine) -> None:
    """Codes, and numbers that a sign or word marks as a chain: #60, ANSI 80, CHAIN 50."""
    codes = [(index, piece) for index, piece in enumerate(line.pieces) if piece.code and not piece.role]
    if codes:
        _from_codes(line, codes)
    else:
        _from_marked_number(line)


def _from_codes(line: TypedLine, codes: list[tuple[int, Piece]]) -> None:
    index, first = codes[0]
    assert first.code is not None
    name = standard_name(first.code.chain)
    _mark_part_number(line, index, first, first.code)
    others = [(at, piece) for at, piece in codes[1:] if piece.code]
    slashed = _slashed_number(line, index)
    contradicted = False
    for _, piece in others:
        assert piece.code is not None
        is_other = (
            standard_name(piece.code.chain) != name
            or (piece.code.teeth or first.code.teeth) != first.code.teeth
        )
        if is_other:
            text, _ = line.original([piece])
            if line.has("replaced", "doubt"):
                line.ask("other_part_in_text", text=text)
            elif standard_name(piece.code.chain) != name:
                contradicted = True
                line.ask("chains_contradict", first=line.original([first])[0], second=text)
            else:
                line.ask("values_contradict", attribute="teeth", first=line.original([first])[0], second=text)
        line.take("chain", piece)
    if slashed is not None and slashed.number is not None:
        if standard_name(slashed.number.digits) != name:
            contradicted = True
            line.ask("chains_contradict", first=slashed.number.digits, second=line.original([first])[0])
        line.take("chain", slashed)
    if contradicted:
        line.take("chain", first)
        return
    if "inch_or_iso" in first.code.doubts:
        iso = f"{first.code.chain[:2]}{first.code.type or first.code.chain[2:]}"
        line.ask(
            "which_chain_is_meant", candidates=(first.code.chain[:2], iso), text=line.original([first])[0]
        )
    line.say("chain", first.code.chain, first)


def _slashed_number(line: TypedLine, index: int) -> Piece | None:
    for at, gap_at in ((index - 1, index), (index + 1, index + 1)):
        piece, after = line.at(at), line.at(gap_at)
        if piece is None or after is None or "/" not in after.gap or piece.number is None or piece.unit:
            continue
        if piece.number.digits in CHAIN_NUMBERS:
            return piece
    return None


def _mark_part_number(line: TypedLine, index: int, piece: Piece, code: ChainCode) -> None:
    """Ask where a code is only a part of a longer number: 4711-60B20, S60B18, 60B18F."""
    before, after = line.at(index - 1), line.at(index + 1)
    is_part = before is not None and (
        (piece.gap in ("-", "/", ".") or piece.is_glued)
        and not before.role
        and (before.kind in ("number", "code") or (before.kind == "word" and not before.topic))
        and not (piece.gap == "/" and before.number is not None and before.number.digits in CHAIN_NUMBERS)
    )
    if after is not None:
        is_unknown = after.kind == "word" and not after.topic and after.text not in ("P", "L", "B", "BR")
        number = after.number
        is_long = number is not None and number.form == "integer" and number.value >= 100 and not after.unit
        is_part |= is_unknown and (after.is_glued or after.gap in ("-", "/"))
        is_bush = code.type.endswith("TB") and number is not None and number.digits in taper_sizes()
        is_part |= (after.gap == "-" or after.is_glued) and is_long and bool(code.teeth) and not is_bush
    if is_part:
        line.ask("code_in_longer_number", text=line.original([piece])[0])


def _from_marked_number(line: TypedLine) -> None:
    found: list[tuple[Piece, tuple[Piece, ...]]] = []
    for index, piece in line.of_kind("number"):
        if not _may_be_chain(piece, MARKED_NUMBERS):
            continue
        marks = tuple(_marks(line, index))
        if marks:
            found.append((piece, marks))
    if len({piece.number.digits for piece, _ in found if piece.number}) > 1:
        line.ask("chains_contradict", first=found[0][0].text, second=found[1][0].text)
        return
    for piece, marks in found[:1]:
        assert piece.number is not None
        line.say(
            "chain", piece.number.digits, *[one for one in marks if one.text == "#"], piece, confidence=0.95
        )
        line.take("chain", *marks)
        _ask_of_letter(line, piece)


def _ask_of_letter(line: TypedLine, number: Piece) -> None:
    """Letters that are glued to the number of a chain make it another one, or a code: 40A, RS40."""
    at = line.pieces.index(number)
    before, after = line.at(at - 1), line.at(at + 1)
    is_ending = after is not None and after.is_glued and not after.role and len(after.text) <= LONGEST_ENDING
    if after is not None and is_ending and after.kind == "word":
        line.ask("code_in_longer_number", text=line.original([number, after])[0])
    if before is not None and number.is_glued and before.kind == "word" and not before.topic:
        line.ask("code_in_longer_number", text=line.original([before, number])[0])


def _may_be_chain(piece: Piece, numbers: frozenset[str] = CHAIN_NUMBERS) -> bool:
    return bool(piece.number and piece.number.digits in numbers and not piece.unit and not piece.role)


def _marks(line: TypedLine, index: int) -> list[Piece]:
    """# and NO before it, ANSI before it, CHAIN beside it."""
    before, after = line.at(index - 1), line.at(index + 1)
    found = []
    if before is not None and (
        before.text == "#"
        or before.topic in ("number_of", "chain")
        or (before.meaning.topic == "standard" and before.meaning.value == "A")
    ):
        found.append(before)
    if after is not None and after.topic == "chain" and not after.breaks:
        found.append(after)
    return found


def read_bare_chain_number(line: TypedLine, *, early: bool) -> None:
    """A number of the chain table without a mark: early, right behind the noun or before the teeth; later, the only one left."""
    asked = any(fact.code == "chains_contradict" for fact in line.questions)
    if asked or ("chain" in line.attributes and not line.chain_names):
        return
    found = [
        piece
        for index, piece in line.of_kind("number")
        if _may_be_chain(piece) and (not early or _stands_early(line, index))
    ]
    if line.chain_names:
        found = [piece for piece in found if piece.number and piece.number.digits in line.chain_names]
    if len(found) == 1 and found[0].number is not None:
        if line.chain_names:
            _settle_candidates(line)
        line.say("chain", found[0].number.digits, found[0], confidence=BARE_CONFIDENCE)
        _ask_of_letter(line, found[0])
        if not early and not _is_confirmed_by_pitch(line, found[0].number.digits):
            line.ask("number_has_two_readings", text=found[0].text)
    elif len(found) > 1 and not early:
        for piece in found:
            line.ask("number_has_two_readings", text=piece.text)


def _is_confirmed_by_pitch(line: TypedLine, name: str) -> bool:
    pitch_mm = line.value_of("pitch_mm")
    return isinstance(pitch_mm, float) and abs(find_chain(name).pitch_mm - pitch_mm) <= PITCH_TOLERANCE_MM


def _settle_candidates(line: TypedLine) -> None:
    """A number names one of the chains that pitch and width left open."""
    line.chain_names = ()
    line.attributes.pop("chain", None)
    line.questions[:] = [fact for fact in line.questions if fact.code != "which_chain_is_meant"]


def _stands_early(line: TypedLine, index: int) -> bool:
    before, after = line.at(index - 1), line.at(index + 1)
    if (
        after is not None
        and after.topic in ("bore", "key", "teeth", "strand_count", "diameter", "pitch", "p")
        and not after.breaks
    ):
        return False
    follows_noun = before is None or before.topic in (
        "part",
        "chain",
        "tapered",
        "idler",
        "split",
        "weld_on",
        "strands",
        "x",
    )
    before_teeth = after is not None and after.role == "teeth"
    return follows_noun or before_teeth


def _pair_at(line: TypedLine, index: int) -> tuple[Piece, Piece, list[Piece]] | None:
    """Two numbers with an X between them, words for pitch and width allowed."""
    first = line.pieces[index]
    at = index + 1
    between: list[Piece] = []
    while (piece := line.at(at)) is not None and piece.topic in ("pitch", "p", "x") and not piece.role:
        between.append(piece)
        at += 1
    second = line.at(at)
    if second is None or second.number is None or second.role or not any(one.topic == "x" for one in between):
        return None
    return first, second, between


def _sizes_mm(first: Piece, second: Piece) -> list[tuple[float, float]]:
    """Each reading of an unmarked pair that is possible: both in one unit, or inches by millimetres (1 x 17.02)."""
    assert first.number is not None
    assert second.number is not None
    one, two = first.unit, second.unit
    one_units = [one] if one in ("in", "mm") else ["in"] if first.number.is_fraction else ["in", "mm"]
    two_units = [two] if two in ("in", "mm") else ["in"] if second.number.is_fraction else ["in", "mm"]
    return [
        (in_mm(first.number.value, a), in_mm(second.number.value, b)) for a in one_units for b in two_units
    ]


def chains_of_pair(pitch_mm: float, width_mm: float) -> tuple[str, ...]:
    """Chains of this pitch and inner width: printed as a pair, or by the dimensions of the table."""
    printed = [
        name
        for pair in pairs()
        if abs(pair.pitch_mm - pitch_mm) <= PITCH_TOLERANCE_MM
        and abs(pair.width_mm - width_mm) <= WIDTH_TOLERANCE_MM
        for name in pair.chains
    ]
    if printed:
        return tuple(printed)
    return tuple(
        name
        for name in chains_of_pitch(pitch_mm)
        if abs(find_chain(name).inner_width_mm - width_mm) <= WIDTH_TOLERANCE_MM
        and not find_chain(name).is_double_pitch
        and name not in ("420", "425", "428", "415", "520", "525", "530", "532", "630", "632")
    )


def read_pitch_by_width(line: TypedLine) -> None:
    for index, _ in line.of_kind("number"):
        pair = _pair_at(line, index)
        if pair is None or _belongs_to_key(line, pair):
            continue
        candidates: tuple[str, ...] = ()
        pitch_mm = 0.0
        for pitch_mm, width_mm in _sizes_mm(pair[0], pair[1]):
            candidates = chains_of_pair(pitch_mm, width_mm)
            if candidates:
                break
        if candidates:
            _say_pair(line, pair, candidates, pitch_mm)
            return


def _belongs_to_key(line: TypedLine, pair: tuple[Piece, Piece, list[Piece]]) -> bool:
    start, end = line.pieces.index(pair[0]), line.pieces.index(pair[1])
    near = (line.at(start - 1), line.at(end + 1))
    return any(one is not None and one.topic in ("key", "nut", "keyed") for one in near)


def _of_system(line: TypedLine, candidates: tuple[str, ...]) -> tuple[str, ...]:
    """Those of the standard that the line names: ANSI for inch numbers, British or DIN 8187 for the B series."""
    systems = set()
    for index, piece in enumerate(line.pieces):
        if piece.topic == "standard" and piece.meaning.value in ("A", "B"):
            systems.add(piece.meaning.value)
        if piece.topic in ("standard", "bs") and (after := line.at(index + 1)) is not None and after.number:
            systems |= {"8187": {"B"}, "8188": {"A"}, "228": {"B"}}.get(after.number.digits, set())
    if len(systems) != 1:
        return candidates
    is_inch = systems == {"A"}
    return tuple(name for name in candidates if (name in INCH_CHAINS) is is_inch) or candidates


def _say_pair(
    line: TypedLine, pair: tuple[Piece, Piece, list[Piece]], candidates: tuple[str, ...], pitch_mm: float
) -> None:
    first, second, between = pair
    pieces = [first, *between, second]
    known = line.value_of("chain")
    if isinstance(known, str):
        if standard_name(known) in {standard_name(name) for name in candidates}:
            line.take("chain", *pieces)
        return
    narrowed = _of_system(line, candidates)
    if len(narrowed) == 1:
        basis_confidence = 0.95 if len(candidates) == 1 else 0.85
        line.say("chain", narrowed[0], *pieces, confidence=basis_confidence)
        return
    line.chain_names = narrowed
    line.say("pitch_mm", round(pitch_mm, 6), *pieces)
    # Pitch by width is the habit where the B series runs, so it is assumed and asked for.
    line.say("chain", narrowed[0], *pieces, basis="assumed")
    line.ask("which_chain_is_meant", candidates=narrowed, text=line.original(pieces)[0])


def read_pitch(line: TypedLine) -> None:
    """A pitch with its word, checked against a chain that is known already."""
    for index, piece in [*line.unread("pitch"), *line.unread("p")]:
        number = _pitch_number(line, index, piece)
        if number is None:
            if piece.topic == "pitch":
                line.take("pitch", piece)
            continue
        pitch_mm = _pitch_mm(number)
        pieces = sorted((piece, number), key=lambda one: one.start)
        known = line.value_of("chain")
        if pitch_mm is None:
            continue
        if isinstance(known, str):
            if abs(find_chain(known).pitch_mm - pitch_mm) > PITCH_TOLERANCE_MM:
                line.ask(
                    "values_contradict", attribute="pitch_mm", first=known, second=line.original(pieces)[0]
                )
            line.take("pitch", *pieces)
            continue
        line.say("pitch_mm", round(pitch_mm, 6), *pieces)


def read_pitch_before_code(line: TypedLine) -> None:
    """5/8" 10B-1: the pitch of the chain whose code follows."""
    for index, piece in line.of_kind("number"):
        at = index + 1
        while (
            (near := line.at(at)) is not None and near.topic in ("part", "strands", "chain") and not near.code
        ):
            at += 1
        if near is None or near.code is None or near.role != "chain":
            continue
        pitch_mm = _pitch_mm(piece) if piece.unit or (piece.number and piece.number.is_fraction) else None
        if (
            pitch_mm is not None
            and abs(find_chain(near.code.chain).pitch_mm - pitch_mm) <= PITCH_TOLERANCE_MM
        ):
            line.take("pitch", piece)


def _pitch_number(line: TypedLine, index: int, label: Piece) -> Piece | None:
    before, after = line.at(index - 1), line.at(index + 1)
    while after is not None and after.topic in ("filler", "diameter") and after.start > label.start:
        after = line.at(line.pieces.index(after) + 1)
    if label.topic == "p":
        after = after if after is not None and (after.is_glued or "=" in after.gap) else None
        before = before if before is not None and label.is_glued else None
    near = [one for one in (before, after) if one is not None and one.number is not None and not one.role]
    fitting = [one for one in near if _pitch_mm(one) is not None]
    if len(fitting) == 2:
        marked = [one for one in fitting if one.unit or (one.number and one.number.form != "integer")]
        return marked[0] if len(marked) == 1 else fitting[0]
    return fitting[0] if fitting else None


def _pitch_mm(piece: Piece) -> float | None:
    """The pitch in mm: as marked, else the unit in which it is the pitch of a chain."""
    assert piece.number is not None
    if piece.unit in ("in", "mm"):
        return in_mm(piece.number.value, piece.unit)
    units = ("in",) if piece.number.is_fraction else ("mm", "in")
    for unit in units:
        length = in_mm(piece.number.value, unit)
        if is_pitch(length) and not (
            unit == "in" and piece.number.form == "integer" and piece.number.value > 4
        ):
            return length
    return None


def chain_from_pitch(line: TypedLine) -> None:
    """With a pitch alone, the chains of that pitch are asked for; 04 with 6 mm is 04B."""
    pitch_mm = line.value_of("pitch_mm")
    if "chain" in line.attributes or not isinstance(pitch_mm, float):
        return
    for _, piece in line.of_kind("number"):
        digits = piece.number.digits if piece.number else ""
        names = [name for name in (f"{digits}A", f"{digits}B", f"{digits}C") if standard_name(name)]
        fitting = [name for name in names if abs(find_chain(name).pitch_mm - pitch_mm) <= PITCH_TOLERANCE_MM]
        if digits.startswith("0") and len(fitting) == 1:
            line.say("chain", fitting[0], piece, basis="implied")
            return
    candidates = line.chain_names or chains_of_pitch(pitch_mm)
    line.ask("which_chain_is_meant", candidates=candidates, text=line.attributes["pitch_mm"].text)
