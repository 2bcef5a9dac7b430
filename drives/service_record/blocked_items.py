"""A blocked item leaves the storeroom only where somebody says why."""

from inventory.facts import Refusal, fact
from inventory.models import Lifecycle
from inventory.stores.ledger import Movement


def refuse_blocked(movement: Movement) -> None:
    """An issue that is not booked yet."""
    if movement.item.lifecycle == Lifecycle.BLOCKED and not movement.reason.strip():
        raise Refusal(fact("blocked_without_reason", item=movement.item.stock_number), field="reason")
