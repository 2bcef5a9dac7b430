"""What a setting would change, held against what the next run makes of it."""

from decimal import Decimal

import pytest

from drives.demand.effect_of_setting import effect_of_setting
from drives.demand.recompute import recompute
from inventory.models import Recommendation, ServiceTarget
from inventory.planning.policy_inputs import levels_of
from tests.drives.demand.demand_records import day, put_in_stock, request, sprocket

pytestmark = pytest.mark.django_db
NOW = day(400)


def set_target() -> None:
    ServiceTarget.objects.create(importance="unknown", kind="fill_rate", value=0.4)


def advised() -> Recommendation:
    return Recommendation.objects.current().get()


def test_the_effect_is_what_the_next_run_makes_of_it_and_nothing_is_written() -> None:
    part = sprocket(unit_cost=Decimal("40.00"), lead_time_days=60)
    put_in_stock(part)
    for at in range(10, 400, 13):
        request(at, part, work_order=f"WO-{at}", result="filled")
    recompute(as_of=NOW, by="a run")
    before = advised()
    effect = effect_of_setting(set_target, as_of=NOW)
    assert not ServiceTarget.objects.exists()
    assert advised().pk == before.pk
    (moved,) = effect.moved
    assert (effect.calculated, effect.rests_on_it, effect.moved_count) == (1, 1, 1)
    assert moved.before.levels == levels_of(before)
    set_target()
    recompute(as_of=NOW, by="the next run")
    after = advised()
    assert moved.after.levels == levels_of(after) != levels_of(before)
    freed = Decimal(before.evidence["figures"]["tied_up"]) - Decimal(after.evidence["figures"]["tied_up"])
    assert [(one.ties_up, one.frees) for one in effect.money] == [(Decimal(0), freed)]


def test_what_changes_nothing_moves_nothing() -> None:
    part = sprocket(unit_cost=Decimal("40.00"), lead_time_days=60)
    request(10, part, work_order="WO-1", result="filled")
    recompute(as_of=NOW, by="a run")
    effect = effect_of_setting(lambda: None, as_of=NOW, is_work_judged=True)
    assert (effect.rests_on_it, effect.moved, effect.work_count) == (0, (), 0)
