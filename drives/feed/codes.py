"""The codes of a source in the words of this service. A code that nobody has read is kept beside the order."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import F

from drives.feed.message import Told
from drives.models import CodeWord, EndedBy, InboundMessage, Mechanism, WorkOrderKind, WorkOrderStatus

DETECTED_BY = ("operator", "inspection", "alarm", "monitoring", "test", "maintenance", "demand")
"""How a failure came to notice; the words of the trade, mapped to ISO 14224 in `tables/`."""
WORDS: Mapping[str, tuple[str, ...]] = {
    "kind": tuple(WorkOrderKind.values),
    "status": tuple(WorkOrderStatus.values),
    "mechanism": tuple(Mechanism.values),
    "ended_by": tuple(EndedBy.values),
    "detected_by": DETECTED_BY,
}


@dataclass(frozen=True, slots=True)
class Read:
    """Each field's word, empty where the message gives none or nobody has read its code; and those codes."""

    words: Mapping[str, str]
    unread: Mapping[str, str]


def codes_in(message: Told) -> dict[str, str]:
    """What the message says in fields that have a vocabulary."""
    given = {"kind": message.kind, "status": message.status}
    if message.failure is not None:
        given |= {name: getattr(message.failure, name) for name in ("mechanism", "ended_by", "detected_by")}
    return {field: code for field, code in given.items() if code}


def foreign(message: Told) -> dict[str, str]:
    return {field: code for field, code in codes_in(message).items() if code not in WORDS[field]}


def read_codes(source: str, message: Told) -> Read:
    given, codes = codes_in(message), foreign(message)
    known = _known(source, codes) if codes else {}
    words = {field: known.get(field, "") if field in codes else code for field, code in given.items()}
    return Read(words, {field: code for field, code in codes.items() if not known.get(field)})


def note_codes(source: str, message: Told) -> None:
    """Count a message's foreign codes, once a message, so that a person sees which are worth reading first."""
    for field, code in sorted(foreign(message).items()):
        CodeWord.objects.bulk_create([CodeWord(source=source, field=field, code=code)], ignore_conflicts=True)
        CodeWord.objects.filter(source=source, field=field, code=code).update(seen=F("seen") + 1)


def carriers(word: CodeWord) -> list[tuple[str, str]]:
    """The orders with a message that carries the code, by source and number."""
    path = word.field if word.field in ("kind", "status") else f"failure__{word.field}"
    rows = InboundMessage.objects.filter(
        source=word.source, kind="work_order", **{f"body__{path}": word.code}
    )
    return sorted(set(rows.order_by().values_list("source", "external_id")))


def _known(source: str, codes: Mapping[str, str]) -> dict[str, str]:
    rows = CodeWord.objects.filter(source=source, field__in=codes, code__in=set(codes.values()))
    return {row.field: row.word for row in rows if codes[row.field] == row.code}
