"""A recommendation as the present caller may see it."""

from api.edge.scope import redact_hidden_plants
from api.wording.sentences import with_explanations
from inventory.models import Recommendation


def redacted(record: Recommendation) -> Recommendation:
    """Its evidence pools every plant: places out of reach lose their names."""
    record.explanation = redact_hidden_plants(record.evidence, record.explanation)
    record.evidence = with_explanations(redact_hidden_plants(record.evidence))
    return record
