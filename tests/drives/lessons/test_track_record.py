from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from drives.lessons.life_comparison import shown_among
from drives.lessons.track_record import track_records
from drives.reliability.lifetimes import right_censored
from drives.reliability.survival import permutation_test
from inventory.facts import fact
from inventory.interchange.vocabulary import Outcome
from tests.factories import DriveFactory, InstallationFactory, ItemFactory, PositionFactory

pytestmark = pytest.mark.django_db
START = datetime(2015, 1, 1, tzinfo=UTC)
NOW = datetime(2026, 11, 24, tzinfo=UTC)


@pytest.fixture
def position():
    return PositionFactory()


@pytest.fixture
def hard():
    return ItemFactory(stock_number="SPR-HARD")


@pytest.fixture
def soft():
    return ItemFactory(stock_number="SPR-SOFT")


def life(position, item, hours, ended_by="limit_reached", **more):
    """One after the other, each for a month on paper; the hours are what counts."""
    begin = START + timedelta(days=30 * position.installations.count())
    InstallationFactory(
        position=position,
        item=item,
        installed_at=begin,
        removed_at=begin + timedelta(days=29),
        ended_by=ended_by,
        running_hours=Decimal(hours),
        **more,
    )


def lives(position, item, *hours, **more):
    for each in hours:
        life(position, item, each, **more)


def record(position, item, at=NOW):
    return track_records(position, [item], at).get(item.pk)


def test_a_substitute_that_lasted_a_third_is_found(position, hard, soft):
    lives(position, hard, 9000, 9100, 8900, 9050, 9020, 9010)
    lives(position, soft, 3000, 2900, 3100)
    found = record(position, soft)
    # Of 84 ways to share nine lives out only this one gives it the three shortest.
    assert found.p_value == pytest.approx(1 / 84, abs=1e-4)
    assert (found.median_hours, found.against, found.against_median_hours) == (3000, "SPR-HARD", 9010)
    assert (found.reason.code, dict(found.reason.values)) == (
        "lives_shorter",
        {
            "lives": 3,
            "is_here": True,
            "is_temporary": False,
            "against": "SPR-HARD",
            "against_lives": 6,
            "median_hours": 3000,
            "against_median_hours": 9010,
            "p_value": pytest.approx(1 / 84, abs=1e-4),
            "method": "exact_permutation",
            "ways": 84,
            "comparisons": 1,
        },
    )
    assert found.outcome is Outcome.REVIEW


def test_a_substitute_that_lasted_longer_is_named_without_a_review(position, hard, soft):
    lives(position, soft, 3000, 2900, 3100, 3050, 3020, 3010)
    lives(position, hard, 9060, 9100, 8900)
    found = record(position, hard)
    assert (found.reason.code, found.reason.values["against"]) == ("lives_longer", "SPR-SOFT")
    assert found.p_value < 0.05
    assert found.outcome is None


def test_lives_that_differ_no_more_than_by_chance_are_alike(position, hard, soft):
    lives(position, hard, 9000, 4000, 7000, 5000)
    lives(position, soft, 6000, 4500, 8000)
    found = record(position, soft)
    assert (found.reason.code, found.reason.values["against"]) == ("lives_alike", "SPR-HARD")
    assert found.outcome is None


@pytest.mark.parametrize(
    ("soft_hours", "hard_hours", "p_value"),
    [
        ((3100, 2890), (9210, 8870, 9330), 1 / 10),
        ((2980, 2890, 3110), (9210, 8870, 9330), 1 / 20),
        ((2980, 2890, 3110), (9210, 8870, 9330, 9040), 1 / 35),
        ((4000, 3500), (7000, 6100, 6900, 7200, 8000), 1 / 21),
    ],
)
def test_a_handful_of_lives_that_were_all_shorter_is_a_caution(
    position, hard, soft, soft_hours, hard_hours, p_value
):
    lives(position, hard, *hard_hours)
    lives(position, soft, *soft_hours)
    found = record(position, soft)
    assert found.p_value == pytest.approx(p_value, abs=1e-4)
    assert (found.reason.code, found.outcome, found.is_outlasted) == ("lives_shorter", Outcome.REVIEW, True)


def test_the_more_is_compared_at_a_place_the_more_it_takes_to_be_a_caution(position, hard, soft):
    """A few of 56 ways to share out the eight lives are as early: enough alone, and not as one of four."""
    lives(position, hard, 9000, 8000, 7000, 6000, 8500)
    lives(position, soft, 5000, 5500, 6500)
    alone = record(position, soft)
    assert (alone.reason.code, alone.reason.values["comparisons"]) == ("lives_shorter", 1)
    others = [ItemFactory(stock_number=f"SPR-{n}") for n in (1, 2, 3)]
    for other in others:
        lives(position, other, 9100, 6900)
    among = record(position, soft)
    assert among.p_value == alone.p_value
    assert (among.reason.code, among.reason.values["comparisons"]) == ("lives_alike", 4)
    assert (among.outcome, among.is_outlasted) == (None, False)


def test_of_places_where_all_last_alike_at_most_one_in_ten_has_a_caution():
    dice = np.random.default_rng(5)
    named = 0
    for _ in range(300):
        tested = {}
        for item in range(4):
            own, other = (right_censored(dice.weibull(2, 4), observed=[True] * 4) for _ in range(2))
            tested[item] = permutation_test(own, other)
        named += any(tested[item].surplus > 0 for item in shown_among(tested, 4))
    assert named <= 300 * 0.1 + 2 * (300 * 0.09) ** 0.5


def test_a_difference_that_one_in_ten_shows_by_chance_is_no_caution(position, hard, soft):
    # 4 of 35 ways to share out these seven give it as many early ends.
    lives(position, hard, 9000, 7000, 6000, 3500)
    lives(position, soft, 3000, 3200, 6500)
    found = record(position, soft)
    assert found.p_value == pytest.approx(4 / 35, abs=1e-4)
    assert (found.reason.code, found.outcome, found.is_outlasted) == ("lives_alike", None, False)


def test_the_usual_part_is_named_where_the_next_one_lasted_longer(position, hard, soft):
    lives(position, soft, 3000, 2900, 3100, 2950)
    lives(position, hard, 9000, 9100, 8900)
    found = record(position, soft)
    assert (found.reason.code, found.against, found.outcome) == (
        "lives_shorter",
        "SPR-HARD",
        Outcome.REVIEW,
    )
    assert record(position, hard).is_outlasted is False


def test_what_had_other_places_is_named_but_keeps_its_rank(position, hard, soft):
    lives(position, hard, 9000)
    lives(position, soft, 3000)
    alike = PositionFactory(drive=DriveFactory())
    lives(alike, hard, 9100, 8900, 9050)
    lives(PositionFactory(drive=DriveFactory()), soft, 2900, 3100)
    found = record(position, soft)
    assert (found.outcome, found.is_caution, found.is_outlasted) == (Outcome.REVIEW, True, False)


def test_the_usual_part_of_a_hard_place_is_not_blamed_for_it(position, hard, soft):
    lives(position, soft, 3000, 2900, 3100, 2950)
    lives(PositionFactory(drive=DriveFactory()), hard, 9000, 9100, 8900)
    assert record(position, soft).reason.code == "usual_part_lives"


def test_two_against_two_are_not_compared_and_yet_never_put_first(position, hard, soft):
    lives(position, hard, 9000, 9100)
    lives(position, soft, 300, 200)
    found = record(position, soft)
    assert (found.p_value, found.outcome, found.is_outlasted) == (None, None, True)
    assert (found.reason.code, found.reason.values["against"]) == ("lives_all_shorter", "SPR-HARD")


def test_two_against_two_that_overlap_are_not_compared(position, hard, soft):
    lives(position, hard, 9000, 9100)
    lives(position, soft, 300, 9050)
    found = record(position, soft)
    assert (found.p_value, found.outcome, found.is_outlasted) == (None, None, False)
    assert (found.reason.code, dict(found.reason.values)) == (
        "lives_too_few_to_compare",
        {
            "lives": 2,
            "is_here": True,
            "is_temporary": False,
            "against": "SPR-HARD",
            "against_lives": 2,
            "least_lives": 2,
            "least_together": 5,
        },
    )


def test_a_temporary_substitute_is_judged_by_its_own_lives(position, hard, soft):
    lives(position, hard, 9000, 9100, 8900, 9050, 9020, 9010)
    lives(position, soft, 3000, 2900, 3100, temporary_until=NOW.date())
    found = record(position, soft)
    assert (found.reason.values["lives"], found.reason.values["is_temporary"]) == (3, True)
    assert found.outcome is Outcome.REVIEW


def test_temporary_lives_are_not_mixed_with_those_to_stay(position, hard, soft):
    lives(position, hard, 9000, 9100, 8900, 9050, 9020, 9010)
    lives(position, soft, 8800, 9200, 9000)
    lives(position, soft, 100, 200, temporary_until=NOW.date())
    assert record(position, soft).median_hours == 9000


def test_a_temporary_unit_is_never_the_item_usually_fitted(position, hard, soft):
    lives(position, hard, 9000)
    lives(position, soft, 3000, 2900, 3100, temporary_until=NOW.date())
    assert record(position, hard).reason == fact(
        "usual_part_lives", lives=1, median_hours=9000.0, is_here=True
    )


def test_removed_in_working_order_is_no_end_of_its_life(position, hard, soft):
    lives(position, hard, 9000, 9100, 8900, 9050, 9020, 9010)
    lives(position, soft, 3000, 2900, 3100, ended_by="preventive")
    found = record(position, soft)
    assert found.median_hours is None
    assert found.outcome is None


def test_with_too_few_here_positions_alike_are_compared(position, hard, soft):
    lives(position, hard, 9000)
    lives(position, soft, 3000)
    alike = PositionFactory(drive=DriveFactory())
    lives(alike, hard, 9100, 8900, 9050, 9020, 9010)
    lives(alike, soft, 2900, 3100)
    found = record(position, soft)
    assert (found.fitted, found.ended) == (1, 1)
    assert (found.reason.values["lives"], found.reason.values["is_here"]) == (3, False)
    assert found.outcome is Outcome.REVIEW


@pytest.mark.parametrize(
    "more",
    [{"teeth": 19}, {"role": "driven"}, {"drive__strands": 2}, {"drive__chain_designation": "08A"}],
)
def test_positions_that_need_something_else_are_not_compared(position, hard, soft, more):
    lives(position, hard, 9000)
    other = PositionFactory(**more)
    lives(other, soft, 2900, 3100, 3000)
    assert record(position, soft) is None


def test_larger_samples_are_compared_by_the_log_rank_test(position, hard, soft):
    lives(position, hard, *range(8000, 10_200, 200))
    lives(position, soft, *range(3000, 5200, 200))
    found = record(position, soft)
    assert found.method == "log_rank"
    assert found.p_value < 0.001


def test_later_records_are_not_seen(position, hard, soft):
    lives(position, hard, 9000, 9100, 8900, 9050, 9020, 9010)
    lives(position, soft, 3000)
    then = START + timedelta(days=30 * 6 - 1)
    assert record(position, soft, at=then) is None
    assert record(position, hard, at=then).ended == 6
    assert record(position, hard, at=then - timedelta(days=10)).ended == 5


def test_an_item_never_fitted_has_no_record(position, hard, soft):
    lives(position, hard, 9000)
    assert record(position, soft) is None


def test_one_query_however_many_lives(position, hard, soft, django_assert_num_queries):
    lives(position, hard, 9000, 9100, 8900, 9050, 9020, 9010)
    lives(position, soft, 3000, 2900, 3100)
    with django_assert_num_queries(1):
        assert len(track_records(position, [hard, soft], NOW)) == 2
