"""What this plant has set for itself: thresholds and shop times, over the shipped ones."""

from django.db.models import FloatField, Value
from django.db.models.functions import Cast

from inventory.interchange.thresholds import Practice, ShopTimes, Thresholds
from inventory.models import PlantSetting, Rule, ShopTime, StockingTerms
from inventory.stocking.demand_settings import DemandSettings


def current_practice() -> Practice:
    """The plant's practice; one query. A rule names a threshold: the database holds it."""
    rules = Rule.objects.order_by().values_list(Value("rule"), "name", "value", Value(""))
    times = ShopTime.objects.order_by().values_list(
        Value("time"), "operation", Cast("minutes", FloatField()), "basis"
    )
    joints = StockingTerms.objects.order_by().values_list(
        Value("joints"), Value("chain"), Cast("chain_joints", FloatField()), Value("")
    )
    settings = list(rules.union(times, joints, all=True))
    stated = {name: value for kind, name, value, _ in settings if kind == "rule"}
    minutes = {name: (round(value), basis) for kind, name, value, basis in settings if kind == "time"}
    return Practice(
        chain_joints=next((round(value) for kind, _, value, _ in settings if kind == "joints"), 0),
        thresholds=Thresholds.with_rules(stated),
        times=ShopTimes().of_plant(minutes),
        stated=tuple(sorted(stated)),
    )


def allowed_chain_joints() -> int:
    """Joints that one chain may have here; one query."""
    return StockingTerms.objects.values_list("chain_joints", flat=True).first() or 0


def current_demand_settings() -> DemandSettings:
    """The settings that choose how demand is modelled here; one query."""
    return DemandSettings.with_own(dict(PlantSetting.objects.order_by().values_list("name", "value")))
