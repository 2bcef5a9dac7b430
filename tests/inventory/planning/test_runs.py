import random
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.facts import Fact, fact, fact_from_json
from inventory.models import Item, Recommendation, ServiceTarget, StockingRun, StockingTerms, StockPolicy
from inventory.planning import decide
from inventory.planning.policy_inputs import Need
from inventory.planning.runs import RunRefused, announce_run, carry_out, failure_of, report, start_run
from inventory.planning.save_recommendations import RunEnded
from tests import factories as make
from tests.inventory.planning.cases import LeadTimesByItem, downtime, lead_time
from tests.inventory.planning.worlds import AS_OF, current, figures, need_of, run_over
from tests.races import outcomes

pytestmark = pytest.mark.django_db


@pytest.fixture
def sprocket(db: None) -> Item:
    return make.ItemFactory(stock_number="SPR-1")


def since_last() -> tuple[Fact, ...]:
    return tuple(map(fact_from_json, current().get().since_last))


def levels(reorder_point: int, order_up_to: int) -> Fact:
    return fact("levels", reorder_point=reorder_point, order_up_to=order_up_to)


def target(value: float) -> Fact:
    return fact("target_input", kind="fill_rate", target=value, tolerable_wait_hours=None)


def price(amount: str) -> Fact:
    return fact("amount_input", amount=amount, currency="EUR")


def test_a_run_stores_one_current_recommendation_for_each_place(sprocket: Item) -> None:
    north = make.StoreroomFactory(code="NORTH")
    run = run_over([need_of(sprocket), need_of(sprocket, north)])
    assert (run.state, run.total, run.done, run.recomputed, run.changed) == ("done", 2, 2, 2, 2)
    assert {row.storeroom.code for row in current()} == {"MAIN", "NORTH"}
    kept = StockingRun.objects.get()
    assert (kept.state, kept.done, kept.recomputed, kept.error) == ("done", 2, 2, "")
    assert kept.finished_at is not None


def test_what_did_not_change_is_left_as_it_is(sprocket: Item) -> None:
    run_over([need_of(sprocket)])
    before = current().get()
    second = run_over([need_of(sprocket)], days=30)
    assert (second.recomputed, second.changed) == (0, 0)
    assert (current().get().pk, current().get().run_id) == (before.pk, before.run_id)


def test_a_full_run_calculates_all_and_leaves_equal_results(sprocket: Item) -> None:
    run_over([need_of(sprocket)])
    before = current().get()
    assert run_over([need_of(sprocket)], is_full=True).recomputed == 1
    assert current().get().pk == before.pk


def test_what_changed_takes_its_place_and_says_why(sprocket: Item) -> None:
    run_over([need_of(sprocket)])
    first = current().get()
    changed = need_of(sprocket, rate=40.0, importance="vital")
    run_over([changed], {sprocket.pk: lead_time(mean_days=60)})
    second = current().get()
    first.refresh_from_db()
    assert (first.state, second.state) == ("superseded", "open")
    assert since_last() == (
        fact("input_changed", input="rate_per_year", before=4.0, after=40.0),
        fact("input_changed", input="lead_time_days", before=45.0, after=60),
        fact("input_changed", input="target", before=target(0.95), after=target(0.99)),
        fact("input_changed", input="importance", before="essential", after="vital"),
        fact("advice_changed", before=levels(2, 3), after=levels(13, 14)),
    )


def test_new_events_prices_and_policies_are_named(sprocket: Item) -> None:
    run_over([need_of(sprocket, evidence={"events": [{"on": "2025-01-07"}]})])
    Item.objects.update(unit_cost=Decimal("41"))
    StockPolicy.objects.create(
        item=sprocket, storeroom=make.StoreroomFactory(), reorder_point=0, order_up_to=1
    )
    run_over([need_of(sprocket, evidence={"events": [{}, {}]})])
    assert since_last()[:3] == (
        fact("input_changed", input="events", before=1, after=2),
        fact("input_changed", input="unit_cost", before=price("38.50"), after=price("41.00")),
        fact("input_changed", input="policy", before=fact("levels_not_set"), after=levels(0, 1)),
    )


def test_a_change_behind_equal_figures_is_named_as_that(sprocket: Item) -> None:
    run_over([need_of(sprocket)])
    run_over([need_of(sprocket, evidence={"lives": ["another record"]})])
    assert since_last() == (fact("records_changed"), fact("advice_unchanged", levels=levels(2, 3)))


@pytest.mark.parametrize("word", ["accept", "decline", "amend"])
def test_a_decision_stays_while_its_inputs_do(sprocket: Item, word: str) -> None:
    run_over([need_of(sprocket)])
    recommendation = current().get()
    given: dict[str, dict[str, Any]] = {
        "accept": {},
        "decline": {"reason": "the line closes"},
        "amend": {"reorder_point": 1, "order_up_to": 4, "reason": "boxes of three"},
    }
    decided = getattr(decide, word)(recommendation, by="Ines Okafor", **given[word])
    for is_full in (False, True):
        run_over([need_of(sprocket)], is_full=is_full, days=10)
        assert (current().get().pk, current().get().state) == (decided.pk, decided.state)
    run_over([need_of(sprocket, rate=5.0)])
    assert (current().get().state, current().count()) == ("open", 1)


def test_a_decision_stays_when_only_days_went_by(sprocket: Item) -> None:
    run_over([need_of(sprocket, evidence={"pool": "Monday"})])
    decide.decline(current().get(), by="Ines Okafor", reason="the line closes")
    run_over([need_of(sprocket, rate=4.01, evidence={"pool": "Tuesday"})])
    newest = current().get()
    assert (newest.state, newest.decision_reason, newest.rate_per_year) == (
        "declined",
        "the line closes",
        4.01,
    )
    assert newest.decided_at is not None


def test_a_plant_sets_how_far_days_may_move_the_demand(sprocket: Item) -> None:
    make.PlantSettingFactory(name="decision_drift", value=0.001)
    run_over([need_of(sprocket, evidence={"pool": "Monday"})])
    decide.decline(current().get(), by="Ines Okafor", reason="the line closes")
    run_over([need_of(sprocket, rate=4.01, evidence={"pool": "Tuesday"})])
    assert current().get().state == "open"


@pytest.mark.parametrize(
    "changed",
    [
        {"rate": 4.5, "evidence": {"pool": "Tuesday"}},
        {"rate": 4.01, "evidence": {"events": [{}]}},
        {"rate": 4.01, "importance": "unknown"},
    ],
)
def test_what_did_happen_opens_it_again_although_the_levels_stay(
    sprocket: Item, changed: dict[str, Any]
) -> None:
    run_over([need_of(sprocket)])
    levels = current().get().order_up_to
    decide.accept(current().get(), by="Ines Okafor")
    run_over([need_of(sprocket, **changed)])
    assert (current().get().state, current().get().order_up_to) == ("open", levels)


def test_levels_set_by_hand_since_open_it_again(sprocket: Item) -> None:
    run_over([need_of(sprocket)])
    decide.accept(current().get(), by="Ines Okafor")
    StockPolicy.objects.update(order_up_to=9)
    run_over([need_of(sprocket, rate=4.01)])
    assert (current().get().state, current().get().changed) == ("open", True)


def test_a_decision_made_during_the_run_is_kept(sprocket: Item) -> None:
    run_over([need_of(sprocket)])
    run = start_run(as_of=AS_OF, by="Ines Okafor")
    accepted = decide.accept(current().get(), by="Marta Keller")
    changed = need_of(sprocket, rate=9.0)
    carry_out(run, [changed], lead_times=LeadTimesByItem({sprocket.pk: lead_time()}))
    assert (current().get().pk, current().get().state) == (accepted.pk, "accepted")
    run_over([changed])
    assert current().get().state == "open"


def test_what_has_no_need_any_more_has_no_current_recommendation(sprocket: Item) -> None:
    other = make.ItemFactory()
    run_over([need_of(sprocket), need_of(other)])
    run_over([need_of(sprocket)])
    assert [row.item_id for row in current()] == [sprocket.pk]


def test_there_is_one_run_at_a_time(sprocket: Item) -> None:
    run = start_run(as_of=AS_OF, by="Ines Okafor")
    with pytest.raises(RunRefused) as refusal:
        start_run(as_of=AS_OF, by="Marta Keller")
    assert refusal.value.fact == fact("run_under_way", run=run.pk, started_by="Ines Okafor")


def test_an_announced_run_is_started_with_the_same_values() -> None:
    announced = announce_run(as_of=AS_OF, by="Ines Okafor", is_full=True)
    with pytest.raises(RunRefused):
        start_run(as_of=AS_OF, by="Ines Okafor", is_full=False)
    begun = start_run(as_of=AS_OF, by="Ines Okafor", is_full=True)
    assert (begun.pk, begun.alive_at is None) == (announced.pk, False)
    with pytest.raises(RunRefused):
        start_run(as_of=AS_OF, by="Ines Okafor", is_full=True)


@pytest.mark.parametrize("begun", [True, False])
def test_a_run_without_a_sign_of_life_is_ended_by_the_next(begun: bool) -> None:
    run = (start_run if begun else announce_run)(as_of=AS_OF, by="Ines Okafor")
    long_ago = timezone.now() - timedelta(minutes=16)
    StockingRun.objects.update(started_at=long_ago, alive_at=long_ago if begun else None)
    start_run(as_of=AS_OF + timedelta(days=1), by="Marta Keller")
    ended = StockingRun.objects.get(pk=run.pk)
    assert (ended.state, failure_of(ended)) == ("failed", fact("run_interrupted"))
    with pytest.raises(RunEnded, match="start a new run"):
        report(run, 1, 2)


def test_a_failure_is_written_into_the_run(sprocket: Item) -> None:
    def break_off(done: int, total: int) -> None:
        raise RuntimeError("the plug was pulled")

    with pytest.raises(RuntimeError):
        run_over([need_of(sprocket)], progress=break_off)
    run = StockingRun.objects.get()
    assert (run.state, run.done) == ("failed", 1)
    assert failure_of(run) == fact("run_failed", message="RuntimeError: the plug was pulled")
    assert run_over([need_of(sprocket)]).state == "done"


def test_progress_comes_in_steps() -> None:
    items = [make.ItemFactory() for _ in range(101)]
    steps: list[tuple[int, int]] = []
    run_over([need_of(item) for item in items], progress=lambda done, total: steps.append((done, total)))
    assert steps == [(100, 101), (101, 101)]


def test_a_run_without_changes_costs_the_same_queries_however_many_places() -> None:
    counts = []
    for size in (2, 20):
        needs = [need_of(make.ItemFactory()) for _ in range(size)]
        run_over(needs)
        with CaptureQueriesContext(connection) as queries:
            run_over(needs)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def some_need(chance: random.Random, item: Item) -> Need:
    rate = chance.choice([0.1, 0.5, 2.0, 6.0])
    return need_of(
        item,
        rate=rate,
        importance=chance.choice(["vital", "essential", "desirable", "unknown"]),
        downtime=downtime(str(chance.choice([20, 420]))) if chance.random() < 0.7 else None,
        evidence={"pool": chance.choice(["a", "b"])},
    )


def change_something(chance: random.Random, items: list[Item], rooms: Any) -> None:
    item = chance.choice(items)
    what = chance.randrange(4)
    if what == 0:
        Item.objects.filter(pk=item.pk).update(unit_cost=Decimal(chance.randrange(1, 400)))
    elif what == 1:
        level = chance.randrange(3)
        StockPolicy.objects.update_or_create(
            item=item, storeroom=rooms, defaults={"reorder_point": level, "order_up_to": level + 1}
        )
    elif what == 2:
        ServiceTarget.objects.update_or_create(
            importance=chance.choice(["vital", "essential"]),
            defaults={
                "value": chance.choice([0.9, 0.97]),
                "kind": chance.choice(["fill_rate", "no_backorder"]),
            },
        )
    else:
        StockingTerms.objects.update_or_create(
            id=1, defaults={"order_cost": Decimal(chance.randrange(1, 60)), "hours_to_expedite": 24}
        )


@pytest.mark.parametrize("seed", range(6))
def test_steps_come_to_the_same_as_one_full_run(seed: int) -> None:
    chance, room = random.Random(seed), make.StoreroomFactory()
    items = [make.ItemFactory() for _ in range(6)]
    needs = {item.pk: some_need(chance, item) for item in items}
    times = {item.pk: lead_time(mean_days=chance.choice([10.0, 45.0])) for item in items}
    for _ in range(5):
        change_something(chance, items, room)
        chosen = chance.choice(items)
        needs[chosen.pk] = some_need(chance, chosen)
        times[chosen.pk] = lead_time(mean_days=chance.choice([10.0, 45.0]), sd_days=chance.choice([0.0, 5.0]))
        run_over(list(needs.values()), times)
    by_steps = figures()
    run_over(list(needs.values()), times, is_full=True)
    assert figures() == by_steps
    Recommendation.objects.all().delete()
    run_over(list(needs.values()), times, is_full=True)
    assert figures() == by_steps


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_of_runs_started_at_once_one_goes() -> None:
    acts = [lambda: start_run(as_of=AS_OF, by="Ines Okafor") for _ in range(8)]
    assert outcomes(acts) == {"booked": 1, "RunRefused": 7}
