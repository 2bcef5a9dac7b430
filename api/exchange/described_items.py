"""Reading the descriptions of items into their specifications, with the change log."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from hashlib import sha256
from typing import Any

from django.db import transaction
from django.utils import timezone

from api.edge.change_log import log_creation, logging_changes, logging_save
from api.wording.sentences import sentence
from inventory.catalogue.described_items import DescribedItem, describe, fill_specification, locked_item
from inventory.models import Specification


@dataclass
class ReadCounts:
    """How many lines had which outcome, and how many items would be, or were, filled."""

    parsed: int = 0
    needs_review: int = 0
    rejected: int = 0
    fillable: int = 0
    written: int = 0
    refused: int = 0

    def count(self, described: DescribedItem, *, written: bool) -> None:
        outcome = described.reading.outcome
        setattr(self, outcome, getattr(self, outcome) + 1)
        self.fillable += described.can_be_written
        self.written += written
        self.refused += described.refusal is not None


def write_description(pk: int) -> DescribedItem:
    """Read one item again under its lock and fill what is unknown, if anything is; logged in the same transaction."""
    with transaction.atomic():
        described = describe(locked_item(pk))
        if not described.can_be_written:
            return described
        item = described.item
        standing = item.specification
        rows = [Specification.objects.filter(pk=standing.pk)] if standing is not None else []
        with logging_save(item), logging_changes(*rows):
            fill_specification(described, timezone.localdate())
        if standing is None and item.specification is not None:
            log_creation(item.specification)
        return described


def shown_digest(described: Iterable[DescribedItem]) -> str:
    """Of what a person saw, so that nothing else is written when it is confirmed."""
    seen = [
        [
            one.item.pk,
            one.can_be_written,
            sorted((name, str(found.value)) for name, found in one.fills.items()),
        ]
        for one in described
    ]
    return sha256(json.dumps(seen).encode()).hexdigest()


def as_json(described: DescribedItem) -> dict[str, Any]:
    """One line of a saved result."""
    reading = described.reading
    return {
        "stock_number": described.item.stock_number,
        "description": described.item.description,
        "outcome": reading.outcome,
        "attributes": {name: asdict(found) for name, found in reading.attributes.items()},
        "questions": [{**one.as_json(), "explanation": sentence(one)} for one in reading.questions],
        "unread": [piece.text for piece in reading.unread],
        "fills": sorted(described.fills) if described.can_be_written else [],
        "differs": {name: [str(one) for one in pair] for name, pair in described.differs.items()},
        "refusal": sentence(described.refusal) if described.refusal else "",
    }
