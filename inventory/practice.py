"""What this plant has set for itself: thresholds and shop times, over the shipped ones."""

import logging
from dataclasses import fields

from inventory.interchange.thresholds import Practice, ShopTimes, Thresholds
from inventory.models import Rule, ShopTime

logger = logging.getLogger(__name__)
KNOWN_RULES = frozenset(spec.name for spec in fields(Thresholds))


def current_practice() -> Practice:
    """The plant's practice; two queries."""
    rules = dict(Rule.objects.values_list("name", "value"))
    for name in sorted(set(rules) - KNOWN_RULES):
        logger.warning("rule %s is no threshold of the verdict and sets nothing", name)
        del rules[name]
    minutes = dict(ShopTime.objects.values_list("operation", "minutes"))
    return Practice(thresholds=Thresholds.with_rules(rules), times=ShopTimes().with_recorded(minutes))
