"""Every type of event, with what its `data` holds: one schema each, in the feed and in what a webhook receives."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from drives.models import WorkOrderKind, WorkOrderStatus

Schema = dict[str, Any]
SCHEMAS = "#/components/schemas/"
TEST = "webhook.test"
PLAIN: dict[str, Schema] = {
    "text": {"type": "string"},
    "number": {"type": "integer"},
    "real": {"type": "number"},
    "decimal": {"type": "string", "format": "decimal"},
    "truth": {"type": "boolean"},
    "day": {"type": "string", "format": "date"},
    "moment": {"type": "string", "format": "date-time"},
    "texts": {"type": "array", "items": {"type": "string"}},
    "facts": {"type": "array", "items": {"$ref": f"{SCHEMAS}Fact"}},
    "reasons": {"type": "array", "items": {"$ref": f"{SCHEMAS}WaitingReason"}},
    "fact_or_text": {"oneOf": [{"$ref": f"{SCHEMAS}Fact"}, {"type": "string"}]},
    "words": {"type": "object", "additionalProperties": {"type": "string"}},
}
"""Kinds of members; any other kind is a vocabulary. A kind with `?` may be null."""

MOVED = (
    "movement:number kind:MovementKind item:text storeroom:text condition:Condition change:number balance_after:number "
    "counted:number? to_or_from:text? work_order:text? position:text? reason_code:ReasonCode? reverses:number? "
    "expected_back_on:day? recorded_by:text"
)
RESERVATION = (
    "reservation:number item:text storeroom:text condition:Condition work_order:text state:ReservationState "
    "quantity:number open_quantity:number short_quantity:number reserved_by:text"
)
KIT = "kit:number work_order:text place:text state:KitState"
DELIVERY = (
    "delivery_check:number source:text external_id:text supplier:text? item:text storeroom:text outcome:DeliveryOutcome "
    "reasons:facts quantity:number held:number received:number sent_back:number recorded_by:text"
)
FIT_QUESTION = (
    "fit_question:number item:text position:text? work_order:text? measure:fact_or_text answer:text?"
)
SUBSTITUTION = "installation:number position:text item:text? until_on:text inspect_by:day? approved_by:text reference:text"
RULE = "substitution_rule:number kind:SubstitutionKind item:text instead_of:text? position:text? drive:text? by:text reason:text"
ORDER = (
    "source:text external_id:text created:truth title:text kind:WorkOrderKind? status:WorkOrderStatus position:text? "
    "equipment:text? needed_by:day? closed_at:moment? mechanism:Mechanism? unread_codes:words updated_at:moment"
)
JOB = "source:text external_id:text needed_by:day? position:text? missing:texts"
INSTALLATION = (
    "installation:number position:text item:text? installed_at:moment? removed_at:moment? ended_by:EndedBy? "
    "mechanism:Mechanism? running_hours:decimal? age_basis:AgeBasis? work_order:text?"
)
MERGE = "merge:number item:text into:text reason:text by:text"


@dataclass(frozen=True)
class EventType:
    name: str
    text: str
    members: str

    @property
    def component(self) -> str:
        return "".join(part.title() for part in self.name.replace(".", "_").split("_"))


EVENT_TYPES = {
    name: EventType(name, text, members)
    for name, text, members in (
        ("stock.moved", "Pieces came, went or were counted: one for each line of the ledger.", MOVED),
        ("reservation.made", "Pieces were reserved.", RESERVATION),
        ("reservation.used", "An issue used a reservation up, or a part of it.", RESERVATION),
        (
            "reservation.short",
            "Urgent work took what was reserved.",
            f"{RESERVATION} taken_by:text taken_reason:text",
        ),
        ("reservation.released", "A reservation was released.", RESERVATION),
        ("reservation.expired", "A reservation ended with its time.", RESERVATION),
        ("reservation.renumbered", "A reservation goes on under another stock number.", RESERVATION),
        ("kit.made", "The parts of a job were reserved together.", KIT),
        ("kit.staged", "The parts of a job stand together.", KIT),
        ("kit.released", "What was left of a kit is free again.", KIT),
        ("delivery.checked", "A delivery was judged and booked.", DELIVERY),
        ("delivery.settled", "Held pieces were released or sent back.", DELIVERY),
        (
            "fit_question.opened",
            "A part came back because it did not fit: somebody has to measure.",
            FIT_QUESTION,
        ),
        ("fit_question.answered", "It was measured why a part did not fit.", FIT_QUESTION),
        ("substitution.approved", "A substitute may run for a time.", f"{SUBSTITUTION} approval:number"),
        (
            "substitution.awaits_approval",
            "A substitute runs and needs its approval.",
            f"{SUBSTITUTION} grade:Grade? requested_by:text",
        ),
        ("substitution.expiring", "The time of a substitute ends within three days.", SUBSTITUTION),
        ("substitution.overdue", "The time of a substitute is over, and it still runs.", SUBSTITUTION),
        ("substitution_rule.given", "An engineer decided about a substitute.", RULE),
        ("substitution_rule.withdrawn", "A decision about a substitute was withdrawn.", RULE),
        ("work_order.changed", "A work order came in or was brought up to date.", ORDER),
        ("work_order.short", "A job that was ready falls short of parts.", JOB),
        ("work_order.ready", "A job that was short of parts is ready again.", JOB),
        ("installation.begun", "A unit was fitted.", INSTALLATION),
        ("installation.ended", "A unit came off.", INSTALLATION),
        ("installation.restored", "The end of a unit was taken back.", INSTALLATION),
        (
            "installation.withdrawn",
            "A unit was recorded that never was fitted.",
            "installation:number position:text item:text? movement:number? installed_at:moment? reason:text withdrawn_by:text",
        ),
        (
            "message.waiting",
            "A message names something that is not recorded, and waits for it.",
            "message:number kind:text source:text external_id:text reasons:reasons",
        ),
        (
            "message.discarded",
            "Somebody decided not to apply a message.",
            "message:number by:text reason:text",
        ),
        ("item.merged", "A stock number goes on under another one.", MERGE),
        ("item.merge_undone", "A merge was undone.", MERGE),
        (
            "service.restored",
            "The database was restored from a backup: what happened since is undone, send it again.",
            "newest_sequence_in_backup:number",
        ),
        ("webhook.disabled", "Nothing is sent to a webhook any more.", "webhook:number reason:text"),
        (TEST, "Asked for by `test/`, for one webhook alone.", "webhook:number"),
    )
}


def data_schema(one: EventType) -> Schema:
    members = dict(member.split(":") for member in one.members.split())
    return {
        "type": "object",
        "description": one.text,
        "required": list(members),
        "properties": {name: kind_schema(kind) for name, kind in members.items()},
    }


def kind_schema(kind: str) -> Schema:
    plain = kind.removesuffix("?")
    schema = dict(PLAIN.get(plain) or {"$ref": SCHEMAS + plain})
    if plain == kind:
        return schema
    if "type" in schema:
        return schema | {"type": [schema["type"], "null"]}
    return {"oneOf": [schema, {"type": "null"}]}


def typed(envelope: Schema, one: EventType) -> Schema:
    """The event with its own type and data."""
    members = {
        **envelope["properties"],
        "type": {"type": "string", "const": one.name, "description": "The type of the event."},
        "data": {"$ref": f"{SCHEMAS}{one.component}Data"},
    }
    required = sorted({*envelope.get("required", ()), "type", "data"})
    return {"type": "object", "description": one.text, "required": required, "properties": members}


def any_of(ending: str) -> Schema:
    names = {name: f"{SCHEMAS}{one.component}{ending}" for name, one in EVENT_TYPES.items()}
    return {
        "oneOf": [{"$ref": address} for address in names.values()],
        "discriminator": {"propertyName": "type", "mapping": names},
    }


def document_events(result: Schema, **kwargs: Any) -> Schema:
    """A hook of the schema generator: what the feed lists and a webhook receives, each event with the data of its type."""
    schemas = result["components"]["schemas"]
    envelope = schemas.get("Event")
    if envelope is None:
        return result
    message = as_message(envelope)
    schemas["WaitingReason"] = as_recorded(schemas["Reason"])
    for one in EVENT_TYPES.values():
        schemas[f"{one.component}Data"] = data_schema(one)
        schemas[f"{one.component}Event"] = typed(envelope, one)
        schemas[f"{one.component}Message"] = typed(message, one)
    schemas["Event"] = any_of("Event") | {"description": envelope["description"]}
    lines = [f"- `{one.name}`: {one.text}" for one in EVENT_TYPES.values()]
    schemas["EventType"] = words("\n".join(lines), EVENT_TYPES)
    schemas["WorkOrderKind"] = words("Why the job is done.", WorkOrderKind.values)
    schemas["WorkOrderStatus"] = words("Where the job stands.", WorkOrderStatus.values)
    result["webhooks"] = {name: webhook(one) for name, one in EVENT_TYPES.items()}
    return result


def as_recorded(reason: Schema) -> Schema:
    """In an event the sentence has the name that it has beside every code."""
    members = dict(reason["properties"])
    members["explanation"] = members.pop("detail")
    return reason | {"properties": members, "required": sorted(members)}


def words(text: str, known: Iterable[Any]) -> Schema:
    return {"type": "string", "enum": [str(one) for one in known], "description": text}


def as_message(envelope: Schema) -> Schema:
    """What a webhook receives has `timestamp` for the moment, as Standard Webhooks names it."""
    members = dict(envelope["properties"])
    moment = members.pop("occurred_at")
    members.pop("recorded_at")
    required = [name for name in envelope.get("required", ()) if name in members]
    return {"properties": {**members, "timestamp": moment}, "required": [*required, "timestamp"]}


SIGNED = {
    "webhook-id": "The id of the event, the same for every attempt: what was taken once is not taken again.",
    "webhook-timestamp": "Seconds since 1970 of this attempt; a receiver refuses an old one.",
    "webhook-signature": "`v1,` and the signature in base64, once for each valid secret.",
}


def webhook(one: EventType) -> Schema:
    headers = [
        {"name": name, "in": "header", "required": True, "description": text, "schema": {"type": "string"}}
        for name, text in SIGNED.items()
    ]
    content = {"application/json": {"schema": {"$ref": f"{SCHEMAS}{one.component}Message"}}}
    return {
        "post": {
            "operationId": f"receive_{one.name.replace('.', '_')}",
            "summary": one.text.partition(":")[0].rstrip("."),
            "description": f"{one.text} Signed after Standard Webhooks 1.0.0.",
            "tags": ["webhooks"],
            "security": [],
            "parameters": headers,
            "requestBody": {"required": True, "content": content},
            "responses": {
                "2XX": {"description": "Taken. Anything else is tried again."},
                "410": {"description": "Gone: the webhook is disabled."},
            },
        }
    }
