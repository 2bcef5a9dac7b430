"""Small stores of the malting plant, and runs over them."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db.models import QuerySet

from inventory.models import Item, Recommendation, StockingRun, Storeroom
from inventory.planning.policy_inputs import Need
from inventory.planning.runs import carry_out, start_run
from inventory.planning.save_recommendations import COMPARED, FIGURES
from inventory.progress import Progress, unreported
from inventory.stores.lead_times import LeadTime
from tests import factories as make
from tests.inventory.planning.cases import LeadTimesByItem, lead_time, need

AS_OF = datetime(2026, 3, 2, 6, 30, tzinfo=UTC)


def need_of(item: Item, room: Storeroom | None = None, **more: Any) -> Need:
    room = room or make.StoreroomFactory()
    return need(**{"item_id": item.pk, "storeroom_id": room.pk} | more)


def run_over(
    needs: Sequence[Need],
    lead_times: Mapping[int, LeadTime] | None = None,
    *,
    is_full: bool = False,
    progress: Progress = unreported,
    days: int = 0,
) -> StockingRun:
    times = lead_times if lead_times is not None else {one.item_id: lead_time() for one in needs}
    run = start_run(as_of=AS_OF + timedelta(days=days), by="Ines Okafor", is_full=is_full)
    return carry_out(
        run,
        needs,
        lead_times=LeadTimesByItem(dict(times)),
        progress=progress,
    )


def current() -> "QuerySet[Recommendation]":
    return Recommendation.objects.current().order_by("item_id", "storeroom_id")


def figures() -> list[tuple[Any, ...]]:
    """Every figure of every current row."""
    names = ("item_id", "storeroom_id", "inputs_hash", *FIGURES, *COMPARED)
    return [tuple(getattr(row, name) for name in names) for row in current()]
