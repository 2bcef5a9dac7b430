"""The content of a work-order message: the job, its failure and its parts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from inventory.models import Condition

Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Part:
    """One line of parts; a negative quantity of parts used was returned."""

    item: str
    quantity: int
    storeroom: str = ""
    condition: str = Condition.NEW
    reason_code: str = ""
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class WorkOrderMessage:
    """`columns` are those of the order as sent, `codes` what has a vocabulary.

    `parts_used` is None if the message has no such list: then a message of its own may bring one.
    """

    columns: dict[str, Any]
    codes: dict[str, str]
    position: str
    equipment: str
    needed: tuple[Part, ...]
    parts_used: list[Body] | None


def parse_message(body: Body) -> WorkOrderMessage:
    needed, failure = body.get("parts_needed") or [], body.get("failure") or {}
    codes = {"kind": body.get("kind"), "status": body.get("status") or "open"}
    codes |= {name: failure.get(name) for name in ("mechanism", "ended_by", "detected_by")}
    return WorkOrderMessage(
        columns={
            "title": body.get("title") or "",
            "urgency": body.get("urgency") or "",
            "needed_by": date.fromisoformat(body["needed_by"]) if body.get("needed_by") else None,
            "opened_at": moment_of(body.get("opened_at")),
            "closed_at": moment_of(body.get("closed_at")),
            "parts_needed": list(needed),
            "attributes": dict(body.get("attributes") or {}),
            "has_failure": body.get("failure") is not None,
            **failure_columns(failure),
        },
        codes={field: code for field, code in codes.items() if code},
        position=body.get("position") or "",
        equipment=body.get("equipment") or "",
        needed=parts_of([line for line in needed if line.get("item")]),
        parts_used=body.get("parts_used"),
    )


def failure_columns(failure: Body) -> dict[str, Any]:
    hours = failure.get("running_hours")
    return {
        "cause": failure.get("cause") or "",
        "part": failure.get("part") or "",
        "removed_at": moment_of(failure.get("removed_at")),
        "running_hours": None if hours is None else Decimal(str(hours)),
        "failure_note": failure.get("note") or "",
    }


def parts_of(lines: list[Body]) -> tuple[Part, ...]:
    return tuple(part_of(line) for line in lines)


def part_of(line: Body) -> Part:
    return Part(
        item=line["item"],
        quantity=int(line["quantity"]),
        storeroom=line.get("storeroom") or "",
        condition=line.get("condition") or Condition.NEW,
        reason_code=line.get("reason_code") or "",
        at=moment_of(line.get("at")),
    )


def moment_of(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None
