"""What this plant has set for itself: thresholds and shop times, over the shipped ones."""

from collections.abc import Mapping

from inventory.interchange.thresholds import Practice, ShopTimes, Thresholds
from inventory.models import PlantSetting, Rule, StockingTerms
from inventory.plumbing.joint_statement import Parameters, Question, Row, answers
from inventory.stocking.demand_settings import DemandSettings

SETTINGS = {
    "rules": Question(("name", "value"), "FROM inventory_rule"),
    "times": Question(("operation", "minutes", "basis"), "FROM inventory_shoptime"),
    "joints": Question(("chain_joints",), "FROM inventory_stockingterms"),
}
"""What `practice_of` reads; may be put together with other questions."""


def current_practice() -> Practice:
    """The plant's practice; one query."""
    return practice_of(answers(Rule, Parameters(), SETTINGS))


def practice_of(rows: Mapping[str, list[Row]]) -> Practice:
    """Of the rows of `SETTINGS`. A rule names a threshold: the database holds it."""
    stated = {name: float(value) for name, value in rows["rules"]}
    minutes = {name: (round(value), basis) for name, value, basis in rows["times"]}
    return Practice(
        chain_joints=next((joints for (joints,) in rows["joints"]), 0),
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
