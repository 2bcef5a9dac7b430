from inventory.facts import fact
from inventory.interchange.thresholds import Practice, ShopTimes
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Operation
from tests.found_facts import found
from tests.inventory.interchange.samples import part, pilot, place

BORED = {"bore": (25, "recorded"), "cut_keyseat": (35, "recorded"), "drill_set_screws": (10, "recorded")}


def bored(times):
    return judge(place(), pilot(12.0, 28.0), practice=Practice(times=ShopTimes().of_plant(times)))


def test_shipped_minutes_are_estimates_down_to_the_step():
    verdict = bored({})

    assert {step.basis for step in verdict.work} == {"estimate"}
    assert verdict.work_basis == "estimate"
    assert found(
        (one for f in verdict.findings for one in f.facts), fact("shop_time", minutes=75, basis="estimate")
    )


def test_minutes_that_the_plant_recorded_say_so():
    verdict = bored(BORED)

    assert (verdict.work_minutes, verdict.work_basis) == (70, "recorded")


def test_one_estimated_step_makes_the_sum_an_estimate():
    verdict = bored({**BORED, "bore": (25, "estimate")})

    assert [step.basis for step in verdict.work] == ["estimate", "recorded", "recorded"]
    assert verdict.work_basis == "estimate"


def test_without_work_or_minutes_there_is_no_basis():
    times = ShopTimes(minutes={Operation.CUT_KEYSEAT: 30})

    assert judge(place(), part()).work_basis is None
    verdict = judge(place(), pilot(12.0, 28.0), practice=Practice(times=times))
    assert (verdict.work_minutes, verdict.work_basis) == (None, None)
    assert {step.basis for step in verdict.work} == {"estimate", None}
