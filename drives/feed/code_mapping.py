"""Codes of a source mapped to the vocabulary of this service, and that vocabulary mapped to the codes of the standards.

A code that nobody has mapped yet is kept with the order.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.db.models import F

from drives.feed.message import WorkOrderMessage
from drives.models import CodeWord, EndedBy, InboundMessage, Mechanism, WorkOrderKind, WorkOrderStatus

TABLE = Path(__file__).parent / "tables" / "standard_codes.csv"
DETECTED_BY = ("operator", "inspection", "alarm", "monitoring", "test", "maintenance", "demand")
"""How a failure was detected; trade terms, mapped to ISO 14224 in `tables/`."""
VOCABULARY: Mapping[str, tuple[str, ...]] = {
    "kind": tuple(WorkOrderKind.values),
    "status": tuple(WorkOrderStatus.values),
    "mechanism": tuple(Mechanism.values),
    "ended_by": tuple(EndedBy.values),
    "detected_by": DETECTED_BY,
}


@dataclass(frozen=True, slots=True)
class MappedCodes:
    """The word of each field, empty if its code is not mapped; and the unmapped codes."""

    words: Mapping[str, str]
    unread: Mapping[str, str]


def foreign_codes(message: WorkOrderMessage) -> dict[str, str]:
    return {field: code for field, code in message.codes.items() if code not in VOCABULARY[field]}


def mapped_codes(source: str, message: WorkOrderMessage) -> MappedCodes:
    codes = foreign_codes(message)
    known = _known(source, codes) if codes else {}
    words = {field: known.get(field, "") if field in codes else code for field, code in message.codes.items()}
    return MappedCodes(words, {field: code for field, code in codes.items() if not known.get(field)})


def note_codes(source: str, message: WorkOrderMessage) -> None:
    """Count the foreign codes of a new message, so that a person sees which to map first."""
    for field, code in sorted(foreign_codes(message).items()):
        # Created where missing and counted with F(): messages of two senders with the same code do not lose a count.
        CodeWord.objects.bulk_create([CodeWord(source=source, field=field, code=code)], ignore_conflicts=True)
        CodeWord.objects.filter(source=source, field=field, code=code).update(seen=F("seen") + 1)


def orders_with(word: CodeWord) -> list[tuple[str, str]]:
    """The orders with a message that contains the code, as (source, number)."""
    path = word.field if word.field in ("kind", "status") else f"failure__{word.field}"
    rows = InboundMessage.objects.filter(
        source=word.source, kind="work_order", **{f"body__{path}": word.code}
    )
    return sorted(set(rows.order_by().values_list("source", "external_id")))


def _known(source: str, codes: Mapping[str, str]) -> dict[str, str]:
    rows = CodeWord.objects.filter(source=source, field__in=codes, code__in=set(codes.values()))
    return {row.field: row.word for row in rows if codes[row.field] == row.code}


@cache
def standard_codes() -> tuple[dict[str, str], ...]:
    """The vocabulary in the codes of ISO 14224 and EN 13306, with a source in every row."""
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))
