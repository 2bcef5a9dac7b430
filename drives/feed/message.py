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
class Failure:
    mechanism: str
    detected_by: str
    ended_by: str
    cause: str
    part: str
    removed_at: datetime | None
    running_hours: Decimal | None
    note: str


@dataclass(frozen=True, slots=True)
class WorkOrderMessage:
    """`used` is None if the message has no list of parts used: then a message of its own may bring one."""

    title: str
    kind: str
    urgency: str
    status: str
    needed_by: date | None
    position: str
    equipment: str
    opened_at: datetime | None
    closed_at: datetime | None
    failure: Failure | None
    needed: tuple[Part, ...]
    used: tuple[Part, ...] | None
    parts_needed: list[Any]
    parts_used: list[Any] | None
    attributes: dict[str, Any]


def parse_message(body: Body) -> WorkOrderMessage:
    needed, used = body.get("parts_needed") or [], body.get("parts_used")
    failure = body.get("failure")
    return WorkOrderMessage(
        **{name: body.get(name) or "" for name in ("title", "kind", "urgency", "position", "equipment")},
        status=body.get("status") or "open",
        needed_by=date.fromisoformat(body["needed_by"]) if body.get("needed_by") else None,
        opened_at=moment_of(body.get("opened_at")),
        closed_at=moment_of(body.get("closed_at")),
        failure=None if failure is None else failure_of(failure),
        needed=tuple(part_of(line) for line in needed if line.get("item")),
        used=None if used is None else parts_of(used),
        parts_needed=list(needed),
        parts_used=None if used is None else list(used),
        attributes=dict(body.get("attributes") or {}),
    )


def failure_of(failure: Body) -> Failure:
    hours = failure.get("running_hours")
    names = ("mechanism", "detected_by", "ended_by", "cause", "part", "note")
    return Failure(
        **{name: failure.get(name) or "" for name in names},
        removed_at=moment_of(failure.get("removed_at")),
        running_hours=None if hours is None else Decimal(str(hours)),
    )


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
