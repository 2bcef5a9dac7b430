"""What this plant has set for itself: thresholds and shop times, over the shipped ones."""

from django.db.models import FloatField, Value
from django.db.models.functions import Cast

from inventory.interchange.thresholds import Practice, ShopTimes, Thresholds
from inventory.models import Rule, ShopTime


def current_practice() -> Practice:
    """The plant's practice; one query. A rule names a threshold: the database holds it."""
    rules = Rule.objects.order_by().values_list(Value("rule"), "name", "value")
    times = ShopTime.objects.order_by().values_list(Value("time"), "operation", Cast("minutes", FloatField()))
    settings = list(rules.union(times, all=True))
    return Practice(
        thresholds=Thresholds.with_rules({name: value for kind, name, value in settings if kind == "rule"}),
        times=ShopTimes().with_recorded(
            {name: round(value) for kind, name, value in settings if kind == "time"}
        ),
    )
