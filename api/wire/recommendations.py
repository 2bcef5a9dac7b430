"""Recommendations as the present caller may see them: their evidence pools every plant."""

from collections.abc import Sequence

from api.edge.scope import redact_hidden_plants
from api.wording.sentences import with_explanations
from inventory.models import Recommendation
from inventory.models.access_scope import current_scope
from inventory.models.stocking import RecommendationQuerySet


def redact(records: Sequence[Recommendation]) -> None:
    """Plants out of reach lose their names; four queries at most, however many records."""
    if not current_scope().is_whole:
        evidence = [record.evidence for record in records]
        reasons = redact_hidden_plants(evidence, [record.explanation for record in records])
        redacted = redact_hidden_plants(evidence)
        for record, own_reasons, own_evidence in zip(records, reasons, redacted, strict=True):
            record.explanation, record.evidence = own_reasons, own_evidence


def redacted(record: Recommendation) -> Recommendation:
    """One record, with the sentence beside each fact of its evidence."""
    redact([record])
    record.evidence = with_explanations(record.evidence)
    return record


def without_evidence(rows: RecommendationQuerySet) -> RecommendationQuerySet:
    """For lists: the evidence is large, and is read only to find the names to redact."""
    return rows.defer("evidence") if current_scope().is_whole else rows
