"""Process messages of the work-order system, one by one and in bulk."""

from collections.abc import Mapping
from typing import Any

from django.http import Http404
from rest_framework.exceptions import ValidationError

from api.edge.errors import error_row, flatten, pointer
from api.edge.scope import OUTSIDE_SCOPE, is_hidden, refuse_hidden, visible_to_caller
from api.wire.facts import reason_with_sentence
from api.wire.work_order_bodies import check_key, valid_body
from drives.feed.intake import IntakeResult, take_in
from drives.models import Equipment, MeterReading, Position, WorkOrder
from inventory.models import Storeroom
from inventory.models.access_scope import current_scope

MOST_AT_ONCE = 1_000


def process_message(
    kind: str, source: str, external_id: str, data: Any, *, strictly: bool = True
) -> IntakeResult:
    """Process one message: invalid content is refused; if a record that it names is missing, it waits."""
    check_key(source, external_id)
    body = valid_body(kind, data)
    refuse_hidden_record(kind, source, external_id, strictly)
    refuse_outside_scope(body)
    return take_in(kind, source, external_id, body, strictly=strictly)


def refuse_outside_scope(body: Mapping[str, Any]) -> None:
    """A caller with limits may not name places outside its scope; for it they do not exist."""
    if current_scope().is_whole:
        return
    wrong = {}
    tag, equipment = body.get("position"), body.get("equipment")
    if tag and is_hidden(Position.objects.filter(tag=tag)):
        wrong["position"] = [f'There is no position "{tag}".']
    if equipment and is_hidden(Equipment.objects.filter(tag=equipment)):
        wrong["equipment"] = [f'There is no equipment "{equipment}".']
    lines = [*(body.get("parts_used") or []), *(body.get("parts_needed") or [])]
    asked = {line["storeroom"] for line in lines if line.get("storeroom")}
    rooms = Storeroom.objects.filter(code__in=asked)
    seen = visible_to_caller(rooms)
    for code in sorted({room.code for room in rooms} - {room.code for room in seen}):
        wrong["parts_used"] = [f'There is no storeroom "{code}".']
    if wrong:
        raise ValidationError(wrong)


def refuse_hidden_record(kind: str, source: str, external_id: str, strictly: bool) -> None:
    """A record outside the caller's scope does not exist for it; in a batch only that element is refused."""
    model = WorkOrder if kind == "work_order" else MeterReading
    try:
        refuse_hidden(model._default_manager.filter(source=source, external_id=external_id))
    except Http404 as hidden:
        if strictly:
            raise
        raise ValidationError({"external_id": [OUTSIDE_SCOPE]}) from hidden


def process_each(kind: str, elements: list[Any]) -> list[dict[str, Any]]:
    """One answer for each element, in their order; a bad one stops no other."""
    return [answer_element(kind, index, element) for index, element in enumerate(elements)]


def answer_element(kind: str, index: int, element: Any) -> dict[str, Any]:
    if not isinstance(element, dict):
        return refused(index, {}, [error_row("", "An object is expected here.")])
    rest = dict(element)
    key = {name: rest.pop(name, "") for name in ("source", "external_id")}
    wrong = [
        error_row(pointer(name), "Text is expected here.")
        for name, value in key.items()
        if type(value) is not str
    ]
    if wrong:
        return refused(index, {}, wrong)
    try:
        taken = process_message(kind, key["source"], key["external_id"], rest, strictly=False)
    except ValidationError as error:
        return refused(index, key, [error_row(at, text) for at, text in flatten(error.detail)])
    status = 202 if taken.waits_for_records else 201 if taken.created else 200
    return {"index": index, "status": status, **key, **message_result(taken), "errors": []}


def refused(index: int, key: dict[str, str], rows: list[dict[str, Any]]) -> dict[str, Any]:
    result = {"applied": False, "outcome": "refused", "message": None, "reasons": [], "errors": rows}
    return {"index": index, "status": 400, "source": "", "external_id": "", **key, **result}


def message_result(taken: IntakeResult) -> dict[str, Any]:
    return {
        "applied": taken.applied,
        "outcome": taken.outcome,
        "message": taken.message.pk,
        "reasons": [reason_with_sentence(one) for one in taken.reasons],
    }
