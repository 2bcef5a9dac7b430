"""Whether two records are one part: the verdict on each in place of the other."""

from collections.abc import Iterator
from dataclasses import dataclass

from inventory.catalogue.core_values import attributes_of, engagement_of
from inventory.catalogue.like_parts import SIZES, WORDS, is_described, is_like
from inventory.descriptions.reader import read_description
from inventory.facts import Fact, fact
from inventory.interchange.findings import Verdict
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import BoreType, Grade, Outcome
from inventory.models import Item, PartKind, Specification

BUSHED = frozenset({BoreType.TAPERED, BoreType.QD})


@dataclass(frozen=True, slots=True)
class PairVerdict:
    """`there` is the grade of the second in place of the first, `back` of the first in place of the second."""

    there: Grade
    back: Grade
    there_because: tuple[Fact, ...] = ()
    back_because: tuple[Fact, ...] = ()

    @property
    def is_equal(self) -> bool:
        return self.there is self.back is Grade.DROP_IN

    @property
    def is_near(self) -> bool:
        """One goes for the other, and a person has to judge the other way round. What takes work is another part."""
        grades = {self.there, self.back}
        return Grade.DROP_IN in grades and grades <= {Grade.DROP_IN, Grade.NEEDS_REVIEW}

    def as_facts(self, first: str, second: str) -> tuple[Fact, ...]:
        """Each direction that is not simply a drop-in, with its reasons."""
        ways = (
            (second, first, self.there, self.there_because),
            (first, second, self.back, self.back_because),
        )
        return tuple(
            fact("not_alike", offered=offered, required=required, grade=grade.value, because=because)
            for offered, required, grade, because in ways
            if grade is not Grade.DROP_IN
        )


def is_readable(record: Specification) -> bool:
    """Whether enough is recorded of a part for a verdict on what it is."""
    if record.kind != PartKind.SPROCKET:
        return is_described(record)
    if engagement_of(record) is None or record.teeth is None or record.strands is None:
        return False
    if record.bore_type in BUSHED:
        return bool(record.bush_size)
    if record.bore_type == BoreType.HEX:
        return record.hex_across_flats_mm is not None
    return bool(record.bore_type) and record.bore_mm is not None


def likeness_of_items(first: Item, second: Item, practice: Practice) -> PairVerdict:
    """Of items with readable records of one kind: where the records are silent on hardened teeth, the words may say it."""
    one, other = first.specification, second.specification
    assert one is not None
    assert other is not None
    found = likeness_of(one, other, practice)
    if not found.is_equal:
        return found
    if _is_hardened_in_words(first, other):
        because = (fact("hardened_in_words", item=first.stock_number),)
        return PairVerdict(Grade.NEEDS_REVIEW, found.back, because, found.back_because)
    if _is_hardened_in_words(second, one):
        because = (fact("hardened_in_words", item=second.stock_number),)
        return PairVerdict(found.there, Grade.NEEDS_REVIEW, found.there_because, because)
    return found


def _is_hardened_in_words(item: Item, other: Specification) -> bool:
    own = item.specification
    if own is None or own.hardened_teeth is not None or other.hardened_teeth is not False:
        return False
    said = read_description(item.description).attributes.get("hardened_teeth")
    return said is not None and said.value is True


def likeness_of(first: Specification, second: Specification, practice: Practice) -> PairVerdict:
    """Two readable records of one kind."""
    if first.kind == PartKind.SPROCKET:
        return likeness_of_sprockets(attributes_of(first), attributes_of(second), practice)
    there, back = is_like(second, first), is_like(first, second)
    return PairVerdict(
        Grade.DROP_IN if there else Grade.NEEDS_REVIEW,
        Grade.DROP_IN if back else Grade.NEEDS_REVIEW,
        () if there else tuple(_differences(first, second)),
        () if back else tuple(_differences(second, first)),
    )


def likeness_of_sprockets(first: Sprocket, second: Sprocket, practice: Practice) -> PairVerdict:
    there = judge(requirement_of(first), second, practice=practice)
    back = judge(requirement_of(second), first, practice=practice)
    return PairVerdict(there.grade, back.grade, _reasons(there), _reasons(back))


def _reasons(verdict: Verdict) -> tuple[Fact, ...]:
    """What keeps it from being a drop-in: the first fact of each such aspect."""
    return tuple(one.reason for one in verdict.checks if one.outcome is not Outcome.OK)


def _differences(required: Specification, offered: Specification) -> Iterator[Fact]:
    for name in (*SIZES, *WORDS):
        stated, other = getattr(required, name), getattr(offered, name)
        if stated not in (None, "") and stated != other:
            given = None if other in (None, "") else str(other)
            yield fact("attribute_not_alike", attribute=name, required=str(stated), offered=given)
