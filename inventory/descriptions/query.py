"""What somebody types to find a part, as attributes to filter by and the words left over; a doubt leaves the words as they are."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from inventory.descriptions.chain_of_line import chains_of_pitch, is_pitch, shown_name
from inventory.descriptions.codes import QD_TYPES
from inventory.descriptions.labelled_lengths import BUSH_SLACK_MM, bush_range_mm
from inventory.descriptions.lengths import in_mm
from inventory.descriptions.mounting_words import taper_sizes
from inventory.descriptions.plausibility import LARGEST_BORE_MM
from inventory.descriptions.reader import RULES
from inventory.descriptions.reading import ReadAttribute
from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine
from inventory.descriptions.what_part import nouns_of, rejection
from inventory.facts import Fact

SURE = ("kind", "chain", "pitch_mm", "strands", "teeth", "bush_size", "bore_mm", "hub_style")
OFTEN_NOT_RECORDED = ("role_kind", "bore_type", "hardened_teeth", "material")
"""What many records lack: where none has it, its words are looked for instead."""
FILTERED = SURE + OFTEN_NOT_RECORDED
"""In the order in which they are shown and written."""
WRITTEN_BORES = {
    "plain": "pilot bore",
    "finished": "finished bore",
    "tapered": "taper bushed",
    "qd": "QD",
    "split": "split",
    "hex": "hex bore",
}
WRITTEN_MATERIALS = {
    "carbon_steel": "carbon steel",
    "stainless_steel": "stainless",
    "alloy_steel": "alloy steel",
    "cast_iron": "cast iron",
    "plastic": "plastic",
}
MOVED_BEHIND = frozenset({"material", "hardened", "split", "keyed", "qd", "bore"})
"""Topics of words that may stand before the chain, which is read where it comes first: STAINLESS 60 19."""
KINDS = {"sprocket": "sprocket", "bush": "bush", "chain": "chain", "key": "key"}
STRAND_WORDS = {1: "simplex", 2: "duplex", 3: "triplex"}
BARE = 0.9
"""Confidence of a chain number without a mark, at most."""
LETTER_HUBS = frozenset("ABCD")
FULLY_DOUBTED = frozenset({"several_parts_in_line", "code_in_longer_number", "other_part_in_text"})
TOO_LITTLE = frozenset({"kind", "hub_style", "strands", *OFTEN_NOT_RECORDED})
"""What says too little by itself: the words find as much."""
SHORTEST_UNMARKED_BORE_MM = 10
SAID_BESIDE = {
    "pitch": ("chain", "pitch_mm"),
    "pitch_mm": ("chain",),
    "part": ("kind",),
    "bore_type": ("bush_size", "role_kind"),
}
"""Roles of words that go with a filter: PITCH beside a chain that has it, TAPER beside the size of a bush."""
Value = str | int | float


@dataclass(frozen=True, slots=True)
class QueryFilter:
    """One attribute; the part has one of the values. `narrower` are the chains of a pitch that is not told apart further."""

    name: str
    values: tuple[Value, ...]
    narrower: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class QueryReading:
    """`plainer` is the reading without what many records lack, with its words among the others."""

    filters: tuple[QueryFilter, ...]
    words: tuple[str, ...]
    plainer: "QueryReading | None" = None

    @property
    def readings(self) -> tuple["QueryReading", ...]:
        """This one and the plainer one, none where nothing is filtered by."""
        plainer = self.plainer.readings if self.plainer else ()
        return (self, *plainer) if self.filters else ()


def read_query(text: str) -> QueryReading:
    """Filters that the text surely asks for, and all other words of it.

    >>> reading = read_query("60-2 kiln")
    >>> [(one.name, one.values) for one in reading.filters], reading.words
    ([('chain', ('60',)), ('strands', (2,))], ('kiln',))
    """
    line = TypedLine(_chain_first(text))
    kind = _bush_with_bore(line)
    for rule in RULES:
        rule(line)
    reason = rejection(line)
    if reason is not None and reason.code == "several_parts_in_line":
        return QueryReading((), tuple(text.split()))
    if any(question.code in FULLY_DOUBTED for question in line.questions):
        return QueryReading((), tuple(text.split()))
    found = _filters(line, kind or _kind(line))
    if set(found) <= TOO_LITTLE or _is_doubtful_alone(line, found):
        return QueryReading((), tuple(text.split()))
    surely = {name: one for name, one in found.items() if name in SURE}
    plainer = _reading(line, text, surely) if len(surely) < len(found) else None
    return _reading(line, text, found, plainer)


def _reading(
    line: TypedLine, text: str, found: Mapping[str, QueryFilter], plainer: QueryReading | None = None
) -> QueryReading:
    words, is_whole = _left_over(line, found)
    if not is_whole:
        return QueryReading((), tuple(text.split()))
    return QueryReading(tuple(found[name] for name in FILTERED if name in found), words, plainer)


def _chain_first(text: str) -> str:
    line = TypedLine(text)
    first = next((piece for piece in line.pieces if not _may_stand_ahead(piece)), None)
    if first is None or first is line.pieces[0] or first.is_glued or first.number is None or first.unit:
        return text
    begin = line.original([first])[1][0]
    return f"{text[begin:]} , {text[:begin]}"


def _may_stand_ahead(piece: Piece) -> bool:
    return piece.topic in MOVED_BEHIND and (piece.topic != "bore" or piece.meaning.value in WRITTEN_BORES)


def query_text(filters: Iterable[QueryFilter], words: Iterable[str] = ()) -> str:
    """The shortest text that is read as these filters and words again."""
    return " ".join((*(_written(one) for one in filters), *words))


def _written(one: QueryFilter) -> str:
    value = one.values[0]
    if one.name == "chain":
        return f"#{value}" if str(value).isdigit() else str(value)
    if one.name == "strands":
        return STRAND_WORDS.get(int(value), f"{value} strand")
    if one.name in OFTEN_NOT_RECORDED:
        return {**WRITTEN_BORES, **WRITTEN_MATERIALS, "idler": "idler"}.get(str(value), "hardened")
    if one.name == "bush_size" and value in QD_TYPES:
        return f"QD {value}"
    forms = {
        "teeth": "{}T",
        "pitch_mm": "pitch {:g} mm",
        "bore_mm": "bore {:g} mm",
        "bush_size": "taper {}",
        "hub_style": "type {}",
    }
    return forms.get(one.name, "{}").format(value)


def _bush_with_bore(line: TypedLine) -> str:
    """BUSH 2012 35, 1610 25: the size of a bush and, right behind it, a bore that it takes."""
    for index, piece in line.of_kind("number"):
        size = piece.number.digits if piece.number else ""
        limits = bush_range_mm(size) if size in taper_sizes() and not piece.unit else None
        after, before = line.at(index + 1), line.at(index - 1)
        while after is not None and after.topic in ("x", "bore", "filler"):
            after = line.at(line.pieces.index(after) + 1)
        named = {kind for _, _, kind in nouns_of(line)}
        is_bush = "bush" in named
        if limits is None or after is None or after.number is None or after.role or after.breaks:
            if limits is not None and is_bush and not _is_of_sprocket(line):
                line.say("bush_size", size, piece)
                return "bush"
            continue
        if named != {"hub"} and not is_bush and (before is not None or len(line.pieces) > index + 2):
            continue
        if is_bush and _is_of_sprocket(line):
            continue
        unit = after.unit if after.unit in ("in", "mm") else "in" if after.number.is_fraction else "mm"
        bore_mm = in_mm(after.number.value, unit)
        if limits[0] - BUSH_SLACK_MM <= bore_mm <= limits[1] + BUSH_SLACK_MM:
            line.say("bush_size", size, piece)
            line.say("bore_mm", round(bore_mm, 6), after)
            return "bush"
    return ""


def _is_of_sprocket(line: TypedLine) -> bool:
    return (
        line.has("teeth")
        or any(piece.code for piece in line.pieces)
        or any(kind.startswith("sprocket") for _, _, kind in nouns_of(line))
    )


def _kind(line: TypedLine) -> str:
    kinds = {kind.rstrip("?") for _, _, kind in nouns_of(line)}
    if "sprocket" in kinds:
        return "sprocket"
    if "teeth" in line.attributes or len(kinds) != 1 or (kinds == {"bush"} and "chain" in line.attributes):
        return ""
    return KINDS.get(kinds.pop(), "")


def _filters(line: TypedLine, kind: str) -> dict[str, QueryFilter]:
    found = {"kind": QueryFilter("kind", (kind,))} if kind else {}
    doubted = _doubted(line)
    for name in FILTERED:
        said = line.attributes.get(name)
        if said is not None and name not in doubted and _is_sure(line, name, said):
            found[name] = QueryFilter(name, (_shown(name, said.value),))
    for question in line.questions:
        if question.code == "which_chain_is_meant":
            _add_alternatives(line, found, tuple(question.values["candidates"]))
    pitch = found.get("pitch_mm")
    if pitch is not None and "chain" in found:
        del found["pitch_mm"]
    elif pitch is not None:
        found["pitch_mm"] = QueryFilter("pitch_mm", pitch.values, chains_of_pitch(float(pitch.values[0])))
    if "bush_size" in found or "role_kind" in found:
        found.pop("bore_type", None)
    if kind == "bush":
        return {name: one for name, one in found.items() if name in ("kind", "bush_size", "bore_mm")}
    return found


def _shown(name: str, value: Value) -> Value:
    return shown_name(str(value)) if name == "chain" else value


def _add_alternatives(line: TypedLine, found: dict[str, QueryFilter], candidates: tuple[str, ...]) -> None:
    """Of a pitch alone the pitch is the filter; of a pitch with its width, or of a code with two readings, the chains are."""
    found.pop("chain", None)
    if "pitch_mm" not in line.attributes or line.chain_names:
        found.pop("pitch_mm", None)
        found["chain"] = QueryFilter("chain", tuple(dict.fromkeys(shown_name(one) for one in candidates)))


def _is_sure(line: TypedLine, name: str, said: ReadAttribute) -> bool:
    if name == "pitch_mm":
        return said.basis == "stated" or ("teeth" in line.attributes and is_pitch(float(said.value)))
    if name == "hub_style":
        return said.basis == "stated" and said.value in LETTER_HUBS
    if name == "material":
        return said.basis == "stated" and said.value in WRITTEN_MATERIALS
    if name == "bore_type":
        return said.basis == "stated" and said.value in WRITTEN_BORES
    if name == "hardened_teeth":
        return said.value is True
    if name == "strands" and not isinstance(said.value, int):
        return False
    if name == "bore_mm" and float(said.value) > LARGEST_BORE_MM:
        return False
    if name == "bore_mm" and said.basis == "assumed":
        return float(said.value) >= SHORTEST_UNMARKED_BORE_MM and float(said.value).is_integer()
    return said.basis != "assumed" and (name != "bush_size" or said.confidence > BARE)


def _doubted(line: TypedLine) -> set[str]:
    """Attributes that a question is about, or that rest on a piece which has two readings."""
    doubted: set[str] = set()
    for question in line.questions:
        values: Mapping[str, object] = question.values
        if question.code == "values_contradict":
            doubted.add(str(values["attribute"]))
        elif question.code == "chains_contradict":
            doubted.add("chain")
        elif question.code in ("number_has_two_readings", "word_has_two_readings", "word_not_understood"):
            doubted |= _resting_on(line, question)
    return doubted


def _resting_on(line: TypedLine, question: Fact) -> set[str]:
    text = str(question.values["text"]).casefold()
    rests = {name for name, said in line.attributes.items() if said.text and said.text.casefold() in text}
    # A bare number right behind a doubted chain is no count of teeth.
    teeth = line.attributes.get("teeth")
    if "chain" in rests and teeth is not None and teeth.basis == "implied":
        rests.add("teeth")
    return rests


def _is_doubtful_alone(line: TypedLine, found: Mapping[str, QueryFilter]) -> bool:
    """A lone number is no chain, and a lone bore needs its unit or its word."""
    if set(found) == {"chain"}:
        return (
            "chain" in line.attributes
            and line.attributes["chain"].confidence <= BARE
            and not line.has("idler")
        )
    return set(found) == {"bore_mm"} and line.attributes["bore_mm"].basis == "implied"


def _left_over(line: TypedLine, found: Mapping[str, QueryFilter]) -> tuple[tuple[str, ...], bool]:
    """Words of the text that no filter has taken, as typed, and whether none was taken in part: OM-KS12-D1 is no bore."""
    left = list(line.text)
    for index, piece in enumerate(line.pieces):
        after = line.at(index + 1)
        begins_grade = piece.topic == "ss" and after is not None and after.is_glued
        if _is_taken(piece, found) and not begins_grade:
            start, end = line.original([piece])[1]
            left[start:end] = "\0" * (end - start)
    words = [word for word in "".join(left).split() if any(letter.isalnum() for letter in word)]
    return tuple(words), not any("\0" in word for word in words)


def _is_taken(piece: Piece, found: Mapping[str, QueryFilter]) -> bool:
    if piece.kind == "grade":
        return False
    if piece.role in found or any(name in found for name in SAID_BESIDE.get(piece.role, ())):
        return True
    is_noun = piece.topic == "part" or (piece.topic in ("chain", "key", "tapered") and not piece.role)
    if piece.topic == "bush" or is_noun or (piece.topic == "hub" and not piece.role):
        return "kind" in found
    return piece.topic in ("x", "filler", "with", "unit") and not piece.role
