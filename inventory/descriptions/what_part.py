"""Whether a line is one sprocket: it is rejected with a reason, or doubted, where it names another part."""

import itertools

from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.facts import Fact, fact

OTHER_PARTS = frozenset({"pulley", "gear", "coupling", "spring", "link", "guard", "other", "motor"})
CONTEXT_PARTS = frozenset({"motor", "other", "guard"})
"""After a sprocket and apart from it they say where it runs or what goes with it."""
PARTS_OF_TOPIC = {
    "chain": "chain",
    "bush": "bush",
    "tapered": "bush",
    "qd": "bush",
    "bearing": "bearing",
    "hub": "hub",
    "weld_on": "hub",
    "shaft": "shaft",
    "key": "key",
    "set_screw": "set_screw",
    "nut": "nut",
    "bronze_bush": "bush",
    "idler": "idler",
}
FIRST_WORDS = 2


def product(piece: Piece) -> str:
    """What part a word names; a sprocket is `sprocket`, or `sprocket?` where the word names other wheels too."""
    if piece.topic == "part":
        return piece.meaning.value
    return PARTS_OF_TOPIC.get(piece.topic, "")


def nouns_of(line: TypedLine) -> list[tuple[int, Piece, str]]:
    return [(index, piece, product(piece)) for index, piece in enumerate(line.pieces) if product(piece)]


def rejection(line: TypedLine) -> Fact | None:
    """The reason why a line is not one sprocket; a doubt becomes a question of the line."""
    if _has_several(line):
        return fact("several_parts_in_line")
    nouns = nouns_of(line)
    if line.has("springy") and any(kind == "spring?" for _, _, kind in nouns):
        return fact("not_a_sprocket", part="spring")
    sprockets = [
        index for index, _, kind in nouns if kind.startswith("sprocket") or _is_sprocket_for_all(line, kind)
    ]
    found = _without_noun(line, nouns) if not sprockets else _with_noun(line, nouns, sprockets[0])
    for _, piece, kind in nouns:
        if kind.startswith("sprocket") or kind in ("spring?", "chain"):
            line.take("part", piece)
    return found


def _is_sprocket_for_all(line: TypedLine, kind: str) -> bool:
    return kind == "spring?" and _has_chain(line) and _has_teeth(line)


def _has_teeth(line: TypedLine) -> bool:
    return "teeth" in line.attributes or any(
        piece.code and piece.code.are_teeth_unknown for piece in line.pieces
    )


def _has_chain(line: TypedLine) -> bool:
    return "chain" in line.attributes or bool(line.chain_names) or any(piece.code for piece in line.pieces)


def _is_catalogue_code(line: TypedLine) -> bool:
    return any(piece.code is not None and piece.code.type for piece in line.pieces)


def _has_several(line: TypedLine) -> bool:
    if line.has("replaced"):
        return False
    whole = [(index, piece) for index, piece in enumerate(line.pieces) if piece.code and piece.code.teeth]
    different = {(piece.code.chain, piece.code.teeth, piece.code.strands) for _, piece in whole if piece.code}
    if len(different) > 1:
        return True
    nouns = nouns_of(line)
    for first, second in itertools.pairwise(nouns):
        kinds = {first[2].rstrip("?"), second[2].rstrip("?")}
        if kinds in (
            {"sprocket", "chain"},
            {"sprocket"},
            {"sprocket", "bearing"},
            {"sprocket", "link"},
        ) and _joined(line, first[0], second[0]):
            return True
    return any(piece.topic == "kit" for piece in line.pieces[: FIRST_WORDS + 1]) and line.has("chain")


def _joined(line: TypedLine, first: int, second: int) -> bool:
    """Whether AND, & or + joins two words."""
    between = line.pieces[first + 1 : second]
    joins = [one.text in ("&", "+") or one.topic == "joiner" for one in between]
    return bool(joins) and (joins[-1] or (len(joins) <= FIRST_WORDS and any(joins)))


def _without_noun(line: TypedLine, nouns: list[tuple[int, Piece, str]]) -> Fact | None:
    others = [kind for _, _, kind in nouns if kind in OTHER_PARTS or kind == "spring?"]
    has_teeth, has_chain = _has_teeth(line), _has_chain(line)
    if _is_catalogue_code(line):
        for kind in others:
            if kind not in CONTEXT_PARTS:
                line.ask("which_part_is_it", part=kind.rstrip("?"))
        if nouns and nouns[0][2] == "chain":
            line.ask("which_part_is_it", part="chain")
        return None
    if others and not (set(others) <= CONTEXT_PARTS and has_teeth and has_chain):
        if others[0] == "spring?":
            line.ask("which_part_is_it", part="spring")
            return None
        return fact("not_a_sprocket", part=others[0])
    if has_teeth and has_chain:
        if nouns and nouns[0][2] == "chain":
            line.ask("which_part_is_it", part="chain")
        return None
    if nouns and nouns[0][2] != "idler" and not has_teeth:
        return fact("not_a_sprocket", part=nouns[0][2])
    if has_chain or has_teeth:
        line.ask("no_word_for_sprocket")
        return None
    return fact("no_sprocket_named")


def _with_noun(line: TypedLine, nouns: list[tuple[int, Piece, str]], first: int) -> Fact | None:
    before = [(index, kind) for index, _, kind in nouns if index < first and kind != "idler"]
    if before and _says_for(line, before[0][0], first):
        return fact("not_a_sprocket", part=before[0][1].rstrip("?"))
    for index, kind in before:
        if kind in OTHER_PARTS:
            if (index == first - 1 or kind == "gear") and not _is_catalogue_code(line):
                return fact("not_a_sprocket", part=kind)
            line.ask("which_part_is_it", part=kind)
        elif kind == "chain" and not _stands_beside(line, index, first):
            line.ask("which_part_is_it", part="chain")
    return _after_noun(line, nouns, first)


def _after_noun(line: TypedLine, nouns: list[tuple[int, Piece, str]], first: int) -> Fact | None:
    is_weak = line.pieces[first].meaning.value.endswith("?")
    nothing_known = not _has_teeth(line) and not _has_chain(line)
    for index, piece, kind in nouns:
        if index <= first or kind not in OTHER_PARTS:
            continue
        if kind == "gear" and is_weak:
            return fact("not_a_sprocket", part=kind)
        if index == first + 1 and (kind in CONTEXT_PARTS - {"motor"} or is_weak) and not piece.breaks:
            return fact("not_a_sprocket", part=kind)
        if kind not in CONTEXT_PARTS:
            line.ask("which_part_is_it", part=kind)
    if is_weak and nothing_known:
        others = [kind for _, _, kind in nouns if not kind.startswith("sprocket")]
        return fact("not_a_sprocket", part=others[0]) if others else fact("no_sprocket_named")
    follower = next((one for one in nouns if one[0] > first), None)
    if line.has("kit") or (follower and follower[2] == "bush" and _joined(line, first, follower[0])):
        line.ask("one_part_or_several")
    return None


def _says_for(line: TypedLine, start: int, end: int) -> bool:
    return any(piece.topic == "for" for piece in line.pieces[start + 1 : end])


def _stands_beside(line: TypedLine, index: int, noun: int) -> bool:
    return all(piece.topic in ("filler", "chain", "part") for piece in line.pieces[index + 1 : noun])
