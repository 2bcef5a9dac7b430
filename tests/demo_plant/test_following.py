"""After any records a plant makes, what was followed is what a full run stores, to the last digit."""

import os
from collections.abc import Callable
from datetime import datetime, timedelta
from random import Random
from typing import Any

import pytest
from django.db import connection
from django.db.models import QuerySet
from django.utils import timezone

from drives.demand import follow_record as module
from drives.demand.follow_record import follow_record
from drives.demand.plant_estimates import month_begin
from drives.demand.recompute import recompute
from drives.duplicates.merging import merge
from drives.models import (
    Cover,
    CoverState,
    Installation,
    ItemPart,
    Position,
    RecordStart,
    Request,
    StoredDemand,
    StoredNeed,
)
from drives.service_record import history, requests
from inventory.models import Condition, Item, Recommendation, StockingRun, StockLevel, Storeroom
from tests import movements
from tests.examples import IS_LONG

pytestmark = pytest.mark.django_db

SEED = int(os.environ.get("PROOF_SEED", "20261130"))
SEEDS = {"sqlite": [SEED], "postgresql": [SEED + 1]}
"""Each database follows a plant of its own; `PROOF=long` has thirty for either."""
ROUNDS = 6
"""After each of them the record is followed: most of the time goes into the two whole runs around them."""
STORED = (Cover, CoverState, ItemPart, RecordStart, StoredDemand, StoredNeed, Recommendation)
ONE_PART = ("41-0215", "S-010442", "LW-200817")
WRITTEN = {"id", "run_id", "as_of", "created_at", "updated_at", "since_last"}
"""When, and by which run."""


def stored() -> dict[tuple[Any, ...], Any]:
    found = {}
    for model in STORED:
        rows = Recommendation.objects.current() if model is Recommendation else model._base_manager.all()
        for row in rows.values():
            names = ("item_id", "storeroom_id", "position_id", "source")
            key = (model.__name__, *(row.get(name) for name in names))
            found[key] = {name: value for name, value in row.items() if name not in WRITTEN}
    return found


class Plant:
    """People who record what happens; each method is one event."""

    def __init__(self, seed: int, now: datetime) -> None:
        self.random, self.now, self.orders = Random(seed), now, 0
        self.begin = max(now - timedelta(hours=1), month_begin(now))

    def choose(self, rows: QuerySet[Any]) -> Any:
        rows = rows.order_by("pk")
        return rows[self.random.randrange(rows.count())]

    def at(self) -> datetime:
        return self.begin + (self.now - self.begin) * self.random.uniform(0.01, 1.0)

    def order(self) -> str:
        self.orders += 1
        return self.random.choice(["", f"WO-F{self.orders}"])

    def level(self) -> StockLevel:
        """Of pieces that may be issued."""
        rows = StockLevel.objects.exclude(condition=Condition.ON_HOLD).filter(on_hand__gt=0, reserved=0)
        return self.choose(rows.filter(item__unit="each"))

    def take_out_of_use(self) -> None:
        """Some positions: what was needed there is demand for what came off."""
        chosen = self.random.sample(list(Position.objects.order_by("pk").values_list("pk", flat=True)), 10)
        Position.objects.filter(pk__in=chosen).update(in_use_until=(self.now - timedelta(days=3)).date())

    def merge_numbers(self) -> None:
        """The part that the demo plant keeps under three numbers goes on under one of them."""
        into, *others = self.random.sample(list(Item.objects.filter(stock_number__in=ONE_PART)), 3)
        for item in others:
            merge(item, into, by="Ada", reason="x", approved_by="Ines Okafor", approval_reason="x")

    def failure(self) -> None:
        """A unit fails and the same item is fitted; the part was requested, and issued where there is one."""
        unit = self.choose(
            Installation.objects.still_fitted().filter(
                item__isnull=False, temporary_until=None, installed_at__lt=self.begin
            )
        )
        ended_by = self.random.choice(["failure", "failure", "limit_reached", "preventive", "opportunity"])
        at, order = self.at(), self.order()
        history.remove(unit, removed_at=at, ended_by=ended_by, mechanism="wear", work_order=order)
        room = unit.position.drive.equipment.area.plant.storeroom
        if room is not None and self.random.random() < 0.7:
            result = self.random.choice(["filled", "not_filled", "not_stocked"])
            known = (
                {"result": "filled", "issued_item": unit.item} if result == "filled" else {"result": result}
            )
            self.request(
                item=unit.item, position=unit.position, storeroom=room, at=at, work_order=order, **known
            )
        if self.random.random() < 0.8:
            history.install(
                unit.position,
                item=unit.item,
                specification=unit.specification,
                installed_at=at,
                approval_follows=True,
            )

    def request(self, **columns: Any) -> None:
        requests.record_request(quantity=1, **columns)

    def unmet_request(self) -> None:
        item, unit = self.choose(Item.objects.all()), self.choose(Installation.objects.still_fitted())
        where = self.random.choice([{}, {"position": unit.position}])
        room = self.choose(Storeroom.objects.all())
        self.request(
            item=item, storeroom=room, at=self.at(), work_order=self.order(), result="not_filled", **where
        )

    def issue(self, quantity: int = 1, **more: Any) -> StockLevel:
        level, unit = self.level(), self.choose(Installation.objects.still_fitted())
        known = {
            "work_order": self.order(),
            "position": self.random.choice(["", "nowhere", unit.position.tag]),
        } | more
        how = {"by": "Ada", "condition": level.condition, "occurred_at": self.at()}
        movements.issue(level.item, level.storeroom, min(quantity, level.on_hand), **how, **known)
        return level

    def issue_for_request(self) -> None:
        asked = self.choose(Request.objects.standing().filter(position__isnull=False).exclude(work_order=""))
        self.issue(work_order=asked.work_order, position=asked.position.tag)

    def last_piece(self) -> None:
        """A shelf runs empty, and sometimes a piece comes back."""
        level = self.issue(quantity=1_000)
        if self.random.random() < 0.5:
            movements.return_to_stock(
                level.item, level.storeroom, 1, by="Ada", condition=level.condition, reason_code="not_needed"
            )

    def receipt(self) -> None:
        level = self.level()
        movements.receive(level.item, level.storeroom, 2, by="Ada", condition=level.condition)

    def retraction(self) -> None:
        """Of a request of this month; of another the next whole run knows."""
        rows = Request.objects.standing().filter(at__gt=month_begin(self.now))
        if rows.exists():
            requests.retract(self.choose(rows), self.now)


EVENTS: tuple[Callable[[Plant], object], ...] = (
    *(Plant.failure,) * 4,
    *(Plant.unmet_request,) * 2,
    *(Plant.issue, Plant.issue_for_request, Plant.last_piece, Plant.receipt, Plant.retraction),
)


@pytest.mark.parametrize("seed", range(SEED, SEED + 30) if IS_LONG else SEEDS[connection.vendor])
def test_what_was_followed_is_what_a_full_run_stores(
    demo_plant: None, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The plant may have been loaded a moment ago: its rows are in the run.
    monkeypatch.setattr(module, "OVERLAP", timedelta(0))
    now = timezone.now()
    plant, followed = Plant(seed, now), 0
    plant.take_out_of_use()
    plant.merge_numbers()
    recompute(as_of=now, by="test")
    for _ in range(ROUNDS):
        for _ in range(plant.random.randrange(1, 4)):
            plant.random.choice(EVENTS)(plant)
        followed += follow_record(now)
    assert followed
    assert not StockingRun.objects.values_list("is_behind", flat=True).first()
    found = stored()
    recompute(as_of=now, by="test", is_full=True)
    after = stored()
    assert found.keys() == after.keys()
    assert [key for key in after if found[key] != after[key]] == []
