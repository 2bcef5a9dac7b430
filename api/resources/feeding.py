"""Process messages of the work-order system, one by one and in bulk."""

from typing import Any

from rest_framework.exceptions import ValidationError

from api.edge.errors import TAKEN_OUT_OF_REACH, Conflict, error_row, flatten, pointer
from api.wire.facts import FactSerializer, reason_with_sentence
from api.wire.message_reach import is_about_hidden, refuse_places_out_of_reach
from api.wire.work_order_bodies import check_key, valid_body
from drives.feed.intake import IntakeResult, take_in

MOST_AT_ONCE = 1_000
LONGEST_KEY = 60


def process_message(
    kind: str, source: str, external_id: str, data: Any, *, strictly: bool = True
) -> IntakeResult:
    """Process one message: invalid content is refused; if a record that it names is missing, it waits."""
    check_key(source, external_id)
    body = valid_body(kind, data)
    refuse_hidden_record(kind, source, external_id, strictly)
    refuse_places_out_of_reach(body)
    return take_in(kind, source, external_id, body, strictly=strictly)


def refuse_hidden_record(kind: str, source: str, external_id: str, strictly: bool) -> None:
    """A number stands once for all plants; in a batch only that element is refused."""
    if not is_about_hidden(kind, source, external_id):
        return
    if strictly:
        raise Conflict(TAKEN_OUT_OF_REACH)
    raise ValidationError({"external_id": [TAKEN_OUT_OF_REACH]})


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
    result = {
        "applied": False,
        "outcome": "refused",
        "message": None,
        "reasons": [],
        "notes": [],
        "errors": rows,
    }
    named = {name: text[:LONGEST_KEY] for name, text in key.items()}
    return {"index": index, "status": 400, "source": "", "external_id": "", **named, **result}


def message_result(taken: IntakeResult) -> dict[str, Any]:
    return {
        "applied": taken.applied,
        "outcome": taken.outcome,
        "message": taken.message.pk,
        "reasons": [reason_with_sentence(one) for one in taken.reasons],
        "notes": [FactSerializer(one).data for one in taken.notes],
    }
