"""What this plant has set for itself: thresholds and shop times, over the shipped ones."""

from inventory.interchange.thresholds import Practice, ShopTimes, Thresholds
from inventory.models import Rule, ShopTime


def current_practice() -> Practice:
    """The plant's practice; two queries. A rule names a threshold: the database holds it."""
    rules = dict(Rule.objects.values_list("name", "value"))
    minutes = dict(ShopTime.objects.values_list("operation", "minutes"))
    return Practice(thresholds=Thresholds.with_rules(rules), times=ShopTimes().with_recorded(minutes))
