"""The body of an event and its signatures, as in Standard Webhooks 1.0.0."""

import base64
import hmac
import json
from collections.abc import Sequence
from datetime import UTC, datetime

from api.webhooks.secrets import bytes_of
from api.wording.sentences import with_explanations
from inventory.models import Event


def event_id(event: Event) -> str:
    """The same for every attempt and every subscriber. It contains the time, as a restore may give a number twice."""
    micros = round(event.recorded_at.timestamp() * 1_000_000)
    return f"evt_{event.pk}_{micros:x}"


def body_of(event: Event) -> bytes:
    """The same bytes at each attempt, on either database; every code with values has its sentence beside it."""
    content = {
        "type": event.type,
        "timestamp": event.occurred_at.astimezone(UTC).isoformat().replace("+00:00", "Z"),
        "id": event_id(event),
        "sequence": event.sequence,
        "aggregate": event.aggregate,
        "version": event.version,
        "storeroom": event.storeroom or None,
        "plant": event.plant or None,
        "data": with_explanations(event.data),
    }
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def headers_of(message_id: str, body: bytes, *, secrets: Sequence[str], at: datetime) -> dict[str, str]:
    """Signed at every attempt, once with each valid secret."""
    timestamp = int(at.timestamp())
    return {
        "content-type": "application/json",
        "user-agent": "chain-drive-spares",
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signature(message_id, timestamp, body, one) for one in secrets),
    }


def signature(message_id: str, timestamp: int, body: bytes, secret: str) -> str:
    content = f"{message_id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.digest(bytes_of(secret), content, "sha256")).decode()
