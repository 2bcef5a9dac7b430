from typing import Any

import pytest

from inventory.models import Item, Recommendation, StockPolicy
from inventory.planning import decide
from inventory.planning.decide import DecisionRefused, DecisionUnsound
from tests import factories as make
from tests.inventory.planning.worlds import current, need_of, run_over
from tests.races import outcomes

pytestmark = pytest.mark.django_db
BY = "Ines Okafor"


@pytest.fixture
def sprocket(db: None) -> Item:
    return make.ItemFactory(stock_number="SPR-1")


@pytest.fixture
def advised(sprocket: Item) -> Recommendation:
    run_over([need_of(sprocket)])
    return current().get()


def test_a_run_alone_sets_nothing(advised: Recommendation) -> None:
    assert not StockPolicy.objects.exists()


def test_accepting_sets_what_was_advised(advised: Recommendation) -> None:
    decided = decide.accept(advised, by=BY)
    policy = StockPolicy.objects.get()
    assert (policy.reorder_point, policy.order_up_to) == (advised.reorder_point, advised.order_up_to)
    assert (policy.set_by_name, policy.reason) == (BY, f"Recommendation {advised.pk}")
    assert decided.decided_at is not None
    assert policy.review_on is not None
    assert (policy.review_on - decided.decided_at.date()).days == 365
    kept = Recommendation.objects.get()
    assert (kept.state, kept.decided_by_name, kept.changed) == ("accepted", BY, False)


def test_other_levels_are_set_with_their_reason(advised: Recommendation) -> None:
    decide.amend(advised, by=BY, reorder_point=3, order_up_to=9, reason=" boxes of six ")
    policy, kept = StockPolicy.objects.get(), Recommendation.objects.get()
    assert (policy.stocked, policy.reorder_point, policy.order_up_to) == (True, 3, 9)
    assert policy.reason == "boxes of six"
    assert (kept.state, kept.decision_reason, kept.changed) == ("amended", "boxes of six", True)


def test_none_can_be_kept_instead(advised: Recommendation) -> None:
    decide.amend(advised, by=BY, reorder_point=-1, order_up_to=0, reason="the line closes")
    assert (StockPolicy.objects.get().stocked, StockPolicy.objects.get().order_up_to) == (False, 0)


def test_declining_leaves_the_policy_as_it_is(sprocket: Item, advised: Recommendation) -> None:
    StockPolicy.objects.create(item=sprocket, storeroom=advised.storeroom, reorder_point=0, order_up_to=1)
    decide.decline(advised, by=BY, reason="the line closes")
    assert StockPolicy.objects.get().order_up_to == 1
    assert (Recommendation.objects.get().state, Recommendation.objects.get().changed) == ("declined", True)


def test_a_policy_there_is_changed_not_doubled(sprocket: Item, advised: Recommendation) -> None:
    StockPolicy.objects.create(item=sprocket, storeroom=advised.storeroom, reorder_point=0, order_up_to=1)
    decide.accept(advised, by=BY)
    assert StockPolicy.objects.get().order_up_to == advised.order_up_to


@pytest.mark.parametrize(
    ("point", "up_to", "field", "code"),
    [
        (-2, 1, "reorder_point", "reorder_point_below_zero"),
        (-1, 1, "reorder_point", "reorder_point_below_zero"),
        (2, 2, "order_up_to", "order_up_to_too_low"),
        (0, 10**7, "order_up_to", "order_up_to_too_high"),
    ],
)
def test_levels_that_cannot_be_are_refused(
    advised: Recommendation, point: int, up_to: int, field: str, code: str
) -> None:
    with pytest.raises(DecisionUnsound) as refusal:
        decide.amend(advised, by=BY, reorder_point=point, order_up_to=up_to, reason="boxes")
    assert (refusal.value.field, refusal.value.fact.code) == (field, code)
    assert not StockPolicy.objects.exists()
    assert Recommendation.objects.get().state == "open"


@pytest.mark.parametrize("reason", ["", "  ", "x" * 301])
def test_another_answer_needs_a_reason(advised: Recommendation, reason: str) -> None:
    with pytest.raises(DecisionUnsound, match="decision_reason_required"):
        decide.decline(advised, by=BY, reason=reason)
    with pytest.raises(DecisionUnsound, match="decision_reason_required"):
        decide.amend(advised, by=BY, reorder_point=0, order_up_to=1, reason=reason)


def test_it_is_decided_once(advised: Recommendation) -> None:
    decide.decline(advised, by="Marta Keller", reason="the line closes")
    with pytest.raises(DecisionRefused, match="already_decided") as refusal:
        decide.accept(advised, by=BY)
    assert dict(refusal.value.fact.values) == {"decided_by": "Marta Keller", "state": "declined"}
    assert not StockPolicy.objects.exists()


def test_what_a_newer_one_replaced_is_refused(sprocket: Item, advised: Recommendation) -> None:
    run_over([need_of(sprocket, rate=9.0)])
    with pytest.raises(DecisionRefused, match="recommendation_superseded"):
        decide.accept(advised, by=BY)
    assert not StockPolicy.objects.exists()


def test_what_is_not_answered_cannot_be_accepted(sprocket: Item) -> None:
    run_over([need_of(sprocket)], {})
    with pytest.raises(DecisionRefused, match="recommendation_not_answered"):
        decide.accept(current().get(), by=BY)
    decide.amend(current().get(), by=BY, reorder_point=0, order_up_to=1, reason="until it is known")
    assert StockPolicy.objects.get().order_up_to == 1


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_of_decisions_at_once_one_counts() -> None:
    run_over([need_of(make.ItemFactory())])
    recommendation = current().get()

    def say(word: str, **more: Any) -> Any:
        return lambda: getattr(decide, word)(recommendation, by=BY, **more)

    acts = [say("accept"), say("decline", reason="the line closes")] * 4
    assert outcomes(acts) == {"booked": 1, "DecisionRefused": 7}
