"""The answers of an operation beside its own: every refusal, the headers, and what a refusal says."""

from typing import Any

from api.edge.errors import CONTENT_TYPE, KINDS
from api.edge.openapi.names import SCHEMAS, Schema
from api.edge.openapi.operations import operations

ALWAYS = (400, 401, 403, 406, 429, 500, 503)
BY_METHOD = {
    "get": (),
    "post": (409, 413, 415, 422),
    "put": (409, 412, 413, 415, 428),
    "patch": (409, 412, 413, 415, 428),
    "delete": (409, 412, 428),
}
DONE = {
    "200": "Done; the answer.",
    "201": "Created; the new record.",
    "202": "Accepted; the work goes on.",
    "204": "Done; there is nothing to say.",
    "304": "The known version still holds.",
}
FILES = ("text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
GIVES = "x-gives"
"""Headers that a view gives, until they are described."""


def text(words: str, **more: Any) -> dict[str, Any]:
    return {"description": words, "schema": {"type": "string"} | more}


HEADERS = {
    "X-Request-Id": text("Names the request, in the log too; the caller may send its own."),
    "RateLimit-Policy": text("Each limit with its quota and its window in seconds."),
    "RateLimit": text("Each limit with what is left of it and the seconds until it begins anew."),
    "ETag": text("The version of the record: send it as If-Match with a change."),
    "Location": text("The address of the new record, or of the job.", format="uri"),
    "Link": text("The next and the previous page (RFC 8288)."),
    "Idempotency-Replayed": text(
        "`true` where the answer is the one that the key got before.", enum=["true"]
    ),
    "WWW-Authenticate": text("How to authenticate."),
    "Retry-After": {
        "description": "Seconds after which to try again.",
        "schema": {"type": "integer", "minimum": 0},
    },
}
SEE_OTHER = {
    "description": "For a reader who takes HTML alone: the page that explains the address.",
    "headers": {"Location": {"$ref": "#/components/headers/Location"}},
}
OF_ALL = ("X-Request-Id", "RateLimit-Policy", "RateLimit")
OF_REFUSAL = {401: ("WWW-Authenticate",), 429: ("Retry-After",), 503: ("Retry-After",)}

REASON = {
    "code": {
        "anyOf": [{"$ref": f"{SCHEMAS}FactCode"}, {"type": "string"}],
        "description": "Why, as a stable code: one of the list, or the code of a validation such as `required`.",
    },
    "values": {"type": "object", "additionalProperties": {}},
}
LIST_FORMAT = {"type": "string", "enum": ["json", "csv", "xlsx"], "description": "The form of a list."}
NUMBER = {"type": "integer"}
PROBLEM = {
    "type": "object",
    "description": "Why a request was refused (RFC 9457).",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": NUMBER,
        "detail": {"type": "string"},
        "instance": {"type": "string"},
        "request_id": {"type": "string"},
        "errors": {"type": "array", "items": {"$ref": f"{SCHEMAS}BadMember"}},
        **REASON,
        "remedies": {"type": "array", "items": {"$ref": f"{SCHEMAS}Remedy"}},
        "blockers": {"type": "array", "items": {"$ref": f"{SCHEMAS}Blocker"}},
        "requested": NUMBER,
        "available": NUMBER,
        "on_hand": NUMBER,
        "reserved": NUMBER,
        "reservations": {"type": "array", "items": {"$ref": f"{SCHEMAS}ReservationInTheWay"}},
        "piece_links": {"type": "array", "items": NUMBER},
        "movement": NUMBER,
        "installation": NUMBER,
        "kit": NUMBER,
        "request": NUMBER,
        "delivery_check": NUMBER,
        "verdict": {"type": ["object", "null"], "additionalProperties": {}},
    },
}
BAD_MEMBER = {
    "type": "object",
    "description": "One member, or one query parameter, that is wrong.",
    "required": ["pointer", "detail"],
    "properties": {
        "pointer": {"type": "string"},
        "detail": {"type": "string"},
        "parameter": {"type": "string"},
        **REASON,
    },
}
REMEDY = {
    "type": "object",
    "description": "A request that resolves the refusal, ready to send with a key of its own.",
    "required": ["action", "method", "href", "body"],
    "properties": {
        "action": {
            "type": "string",
            "enum": [
                *("found", "not_there", "override_reservation", "issue_available", "join_pieces", "count"),
                *("reverse_others", "remove", "never_fitted"),
            ],
        },
        "method": {"type": "string", "enum": ["POST"]},
        "href": {"type": "string", "format": "uri"},
        "body": {"type": "object", "additionalProperties": {}},
    },
}
BLOCKER = {
    "type": "object",
    "description": "A record that refers to this one.",
    "required": ["kind", "name"],
    "properties": {"kind": {"type": "string"}, "name": {"type": "string"}},
}
RESERVATION_IN_THE_WAY = {
    "type": "object",
    "description": "A reservation that holds what was asked for.",
    "required": ["id", "work_order", "open_quantity"],
    "properties": {"id": NUMBER, "work_order": {"type": "string"}, "open_quantity": NUMBER},
}


def document_answers(document: Schema) -> None:
    """Every refusal an operation can give, and the headers of all answers; each is described once."""
    parts = document.setdefault("components", {})
    parts.setdefault("schemas", {}).update(
        {
            "ListFormat": LIST_FORMAT,
            "Problem": PROBLEM,
            "BadMember": BAD_MEMBER,
            "Remedy": REMEDY,
            "Blocker": BLOCKER,
            "ReservationInTheWay": RESERVATION_IN_THE_WAY,
        }
    )
    parts["headers"] = dict(HEADERS)
    parts["responses"] = {response_name(code): refusal(code) for code in KINDS} | {"SeeOther": SEE_OTHER}
    for path, method, operation in operations(document):
        answers = operation["responses"]
        gives = operation.pop(GIVES, ())
        if method == "get" and any(
            one["name"] in ("cursor", "after") for one in operation.get("parameters", ())
        ):
            gives = (*gives, "Link")
        if method == "get" and any(one["name"] == "If-None-Match" for one in operation.get("parameters", ())):
            answers.setdefault("304", {})
        for code, answer in answers.items():
            describe_answer(code, answer, gives)
        if method == "get":
            answers.setdefault("303", {"$ref": "#/components/responses/SeeOther"})
        for code in (*ALWAYS, *BY_METHOD[method], *((404,) if "{" in path else ())):
            answers.setdefault(str(code), {"$ref": f"#/components/responses/{response_name(code)}"})


def describe_answer(code: str, answer: dict[str, Any], gives: tuple[str, ...]) -> None:
    for kind in FILES:
        if code == "202":  # What calculates the list is no list.
            answer.get("content", {}).pop(kind, None)
        elif kind in answer.get("content", {}):
            answer["content"][kind] = {"schema": {"type": "string", "contentMediaType": kind}}
    answer["description"] = answer.get("description") or DONE[code]
    # What the view itself says of a header stays.
    known = answer.setdefault("headers", {})
    for name in (*OF_ALL, *gives):
        if name == "Location" and code != "201":
            continue
        known.setdefault(name, header_reference(name))


def header_reference(name: str) -> dict[str, str]:
    return {"$ref": f"#/components/headers/{name}"}


def response_name(code: int) -> str:
    """As the problem is called at its address: `not-found` is NotFound."""
    return "".join(part.title() for part in KINDS[code][0].split("-"))


def refusal(code: int) -> dict[str, Any]:
    names = (*OF_ALL, *OF_REFUSAL.get(code, ()))
    return {
        "description": KINDS[code][1],
        "headers": {name: header_reference(name) for name in names},
        "content": {CONTENT_TYPE: {"schema": {"$ref": f"{SCHEMAS}Problem"}}},
    }
