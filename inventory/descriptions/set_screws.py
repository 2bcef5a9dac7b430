"""Set screws, keyed or not, and what is said not to be there."""

from inventory.descriptions.tokens import Piece
from inventory.descriptions.typed_line import TypedLine

MOST_SCREWS = 8
STAINLESS_NUMBERS = frozenset({"303", "304", "316", "304L", "316L"})


def read_set_screws(line: TypedLine) -> None:
    for _, piece in line.unread("no_set_screw"):
        line.say("set_screw", False, piece)
        line.say("set_screws", 0, piece)
    for index, piece in line.unread("set_screw"):
        _say_screws(line, index, piece)
    for index, piece in line.unread("tapped"):
        thread = line.at(index + 1)
        line.say(
            "set_screw",
            True,
            *([piece, thread] if thread is not None and thread.kind == "thread" else [piece]),
            basis="implied",
        )
    for index, piece in line.unread("ss"):
        after = line.at(index + 1)
        if after is not None and after.number is not None and after.number.digits in STAINLESS_NUMBERS:
            continue
        if _count_before(line, index) is not None or _after_keyway(line, index):
            _say_screws(line, index, piece)


def _count_before(line: TypedLine, index: int) -> Piece | None:
    before = line.at(index - 1)
    if before is not None and before.kind == "thread" and not before.role and before.text[0] == "M":
        line.take("set_screw", before)
        index -= 1
        before = line.at(index - 1)
    if before is not None and before.topic == "x":
        before = line.at(index - 2)
    if before is None or before.number is None or before.role or before.unit:
        return None
    ahead = line.at(line.pieces.index(before) - 1)
    if ahead is not None and ahead.topic == "x" and ahead.is_glued:
        return None
    whole = before.number.whole
    return (
        before
        if whole is not None and 1 <= whole <= MOST_SCREWS and not line.pieces[index].breaks
        else _in_brackets(line, before, index)
    )


def _in_brackets(line: TypedLine, before: Piece, index: int) -> Piece | None:
    """(2) SET SCR"""
    whole = before.number.whole if before.number else None
    is_bracketed = "(" in before.gap and line.pieces[index].gap.strip() == ")"
    return before if is_bracketed and whole is not None and whole <= MOST_SCREWS else None


def _after_keyway(line: TypedLine, index: int) -> bool:
    """KW & SS, KW/SS"""
    before, second = line.at(index - 1), line.at(index - 2)
    topics = ("key", "keyed")
    if before is not None and before.topic in topics:
        return True
    joins = before is not None and (before.text in ("&", "+") or before.topic in ("joiner", "with"))
    return joins and second is not None and second.topic in topics


def _say_screws(line: TypedLine, index: int, piece: Piece) -> None:
    count = _count_before(line, index)
    thread = line.at(index + 1)
    threads = [thread] if thread is not None and thread.kind == "thread" else []
    if count is not None and count.number is not None and count.number.whole is not None:
        line.say("set_screws", count.number.whole, count, piece)
        line.say("set_screw", True, count, piece)
    else:
        line.say("set_screw", True, piece)
    line.take("set_screw", *threads)
    _threads_with_count(line)


def _threads_with_count(line: TypedLine) -> None:
    """2 X M6 beside the words for set screws."""
    for index, piece in line.of_kind("thread"):
        counted = piece.text.partition("X")[0].strip()
        if counted.isdigit() and "M" not in counted:
            line.say("set_screws", int(counted), piece)
            continue
        line.take("set_screw", piece)
        before = line.at(index - 1)
        number = line.at(index - 2) if before is not None and before.topic == "x" else before
        whole = (
            number.number.whole
            if number is not None and number.number and not number.role and not number.unit
            else None
        )
        if whole is not None and whole <= MOST_SCREWS and number is not None:
            line.say("set_screws", whole, number, piece)
            line.take("set_screws", before)


def read_keyed(line: TypedLine) -> None:
    for _, piece in line.unread("no_key"):
        line.say("keyway", False, piece)
    for _, piece in line.unread("keyed"):
        line.say("keyway", True, piece)
