import pytest

from inventory.facts import fact
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect
from tests.found_facts import found
from tests.inventory.interchange.checks_reader import inches_mm, rows
from tests.inventory.interchange.samples import idler, idler_place, keyed, part, place

NEAR_MISSES = rows("near_miss_bores")
PAIRS = [
    pytest.param(r, id=f"{r['metric_bore_mm']} mm and {r['nearest_inch_sixteenths']} in") for r in NEAR_MISSES
]


def metric(row):
    width, _ = (float(size) for size in row["metric_key_mm"].split("x"))
    return float(row["metric_bore_mm"]), width


def inch(row):
    return inches_mm(row["nearest_inch_sixteenths"]), inches_mm(row["inch_key_in"])


def bored(size, **changes):
    bore_mm, key_mm = size
    return part(
        bore_mm=bore_mm,
        keyway_width_mm=key_mm,
        keyway_depth_mm=None,
        key_standard=None,
        hub_diameter_mm=2 * bore_mm + 20,
        **changes,
    )


def on_shaft(size, offered):
    verdict = judge(place(shaft=keyed(*size)), offered)
    return verdict, next(f for f in verdict.checks if f.aspect is Aspect.MOUNTING)


def test_all_38_pairs_are_checked():
    assert len(NEAR_MISSES) == 38


@pytest.mark.parametrize("row", PAIRS)
@pytest.mark.parametrize("turned", [False, True])
def test_a_near_miss_is_never_taken_for_the_same_size(row, turned):
    shaft, bore = (inch(row), metric(row)) if turned else (metric(row), inch(row))

    verdict, mounting = on_shaft(shaft, bored(bore))

    assert verdict.grade.value != "drop_in"
    if bore[0] > shaft[0]:
        assert (mounting.outcome.value, mounting.code) == ("no", "bore_too_large")
    else:
        assert (mounting.outcome.value, mounting.code) == ("work", "bore_to_open")
        assert mounting.work[0].detail == fact("bore_to_shaft", bore_mm=shaft[0])


@pytest.mark.parametrize("row", PAIRS)
def test_the_inch_pair_of_a_metric_bore_is_as_far_off_as_the_table_says(row):
    assert inch(row)[0] - metric(row)[0] == pytest.approx(float(row["gap_mm"]), abs=1e-9)


@pytest.mark.parametrize("row", PAIRS)
def test_a_smaller_bore_stays_out_where_the_greatest_bore_is_reached(row):
    small, large = sorted([metric(row), inch(row)])

    verdict, mounting = on_shaft(large, bored(small, max_bore_mm=small[0]))

    assert (verdict.grade.value, mounting.limit) == ("unfit", small[0])


@pytest.mark.parametrize("row", PAIRS)
def test_each_size_goes_on_its_own_shaft(row):
    for size in (metric(row), inch(row)):
        assert on_shaft(size, bored(size))[1].outcome.value == "ok"


@pytest.mark.parametrize("row", PAIRS)
def test_an_inch_key_is_no_metric_key_on_the_same_bore(row):
    (bore_mm, metric_key), (_, inch_key) = metric(row), inch(row)

    key = next(
        f
        for f in judge(place(shaft=keyed(bore_mm, metric_key)), bored((bore_mm, inch_key))).checks
        if f.aspect is Aspect.KEY
    )

    assert key.outcome.value == ("work" if inch_key < metric_key else "review")


@pytest.mark.parametrize(
    ("bore_mm", "outcome"),
    [(25.0, "ok"), (25.006, "ok"), (25.0061, "review"), (25.01, "review"), (24.994, "ok"), (24.99, "review")],
)
def test_one_nominal_size_is_six_thousandths_wide(bore_mm, outcome):
    assert on_shaft((25.0, 8.0), bored((bore_mm, 8.0)))[1].outcome.value == outcome


@pytest.mark.parametrize(
    ("shaft_mm", "bore_mm", "outcome", "code"),
    [
        # 1 9/16 in is 39.6875 mm, 15/16 in 23.8125 mm, 1 3/8 in 34.925 mm, 3/4 in 19.05 mm.
        (39.69, 40.0, "no", "bore_too_large"),
        (39.69, 39.93, "no", "bore_too_large"),
        (39.69, 39.84, "review", "size_between_standard_sizes"),
        (39.69, 39.75, "review", "size_between_standard_sizes"),
        (40.0, 39.69, "work", "bore_to_open"),
        (40.0, 39.73, "work", "bore_to_open"),
        (40.0, 39.85, "review", "size_between_standard_sizes"),
        (23.8125, 24.04, "no", "bore_too_large"),
        (24.0, 23.84, "work", "bore_to_open"),
        (19.0, 19.04, "review", "size_between_standard_sizes"),
        (24.98, 25.0, "review", "size_between_standard_sizes"),
        (24.8, 25.0, "no", "bore_too_large"),
    ],
)
def test_a_measured_bore_is_taken_for_the_nearest_standard_size(shaft_mm, bore_mm, outcome, code):
    _, mounting = on_shaft((shaft_mm, 8.0), bored((bore_mm, 8.0)))

    assert (mounting.outcome.value, mounting.code) == (outcome, code)


def test_an_inch_bore_written_with_two_decimals_is_called_by_its_name():
    for size, other in ((39.69, 40.0), (40.0, 39.69)):
        _, mounting = on_shaft((size, 8.0), bored((other, 8.0)))
        named = fact("size_of_look_alike", size_mm=other, required_mm=size)
        assert found(mounting.facts, named) == (other == 39.69)


def test_the_next_standard_size_is_named_and_what_to_measure():
    _, mounting = on_shaft((39.69, 8.0), bored((39.84, 8.0)))

    assert mounting.values["look_alike_mm"] == 40.0
    assert found(mounting.facts, fact("measure_with_bore_gauge"))


@pytest.mark.parametrize(("bore_mm", "outcome"), [(25.4, "no"), (25.03, "review"), (25.0, "ok")])
def test_a_bearing_bore_is_told_apart_by_name_as_well(bore_mm, outcome):
    verdict = judge(idler_place(), idler(bore_mm))

    assert next(f for f in verdict.checks if f.aspect is Aspect.MOUNTING).outcome.value == outcome


@pytest.mark.parametrize(("shaft_mm", "bore_mm"), [(39.62, 39.6875), (24.98, 25.0)])
def test_a_measured_shaft_stands_for_the_standard_size_beside_it(shaft_mm, bore_mm):
    _, mounting = on_shaft((shaft_mm, 8.0), bored((bore_mm, 8.0)))

    assert mounting.outcome.value == "review"
    assert mounting.values["look_alike_mm"] != bore_mm
