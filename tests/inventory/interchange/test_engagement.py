import pytest

from inventory.facts import fact
from inventory.interchange.screening import screen
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect
from inventory.standards.chains import chains
from inventory.standards.chains import find_chain as chain_row
from tests.found_facts import found
from tests.inventory.interchange.checks_reader import rows
from tests.inventory.interchange.samples import chain, part, place

PAIRS = rows("confusable")
OUTCOME_OF_WORD = {"SAME": "ok", "CONDITIONAL": "review", "POOR": "no"}
CODES_OF_WORD = {
    "NO-pitch": {"pitch_differs"},
    "NO-width": {"tooth_too_wide"},
    "NO-roller": {"roller_too_large", "roller_too_small"},
    "POOR: side play": {"tooth_too_narrow"},
    "POOR: roller": {"roller_too_small"},
}
DIRECTIONS = [
    *(
        pytest.param(r["b"], r["a"], r["chain_b_on_sprocket_a"], id=f"{r['pair_id']} {r['b']} on {r['a']}")
        for r in PAIRS
    ),
    *(
        pytest.param(r["a"], r["b"], r["chain_a_on_sprocket_b"], id=f"{r['pair_id']} {r['a']} on {r['b']}")
        for r in PAIRS
    ),
]
MULTI = [r for r in PAIRS if not r["multi_strand"].startswith("n/a")]


def findings(verdict, aspect):
    return [finding for finding in verdict.findings if finding.aspect is aspect]


def on(chain_name, rim_name, strands=1):
    return judge(
        place(chain=chain(chain_name), strands=strands), part(chain=chain(rim_name), strands=strands)
    )


def expected_outcome(words):
    return "no" if words.startswith("NO") else OUTCOME_OF_WORD[words.split(":")[0]]


def test_all_52_confusable_pairs_are_checked_in_both_directions():
    assert (len(PAIRS), len(DIRECTIONS)) == (52, 104)


@pytest.mark.parametrize(("runs", "rim", "words"), DIRECTIONS)
def test_one_strand_runs_as_the_table_says(runs, rim, words):
    (finding,) = findings(on(runs, rim), Aspect.CHAIN)
    is_remembered = not (chain_row(runs).is_confirmed and chain_row(rim).is_confirmed)

    expected = expected_outcome(words)
    assert finding.outcome.value == ("review" if is_remembered and expected == "ok" else expected), (
        finding.facts
    )


@pytest.mark.parametrize(("runs", "rim", "words"), DIRECTIONS)
def test_a_refusal_gives_the_physical_reason_of_the_table(runs, rim, words):
    code = findings(on(runs, rim), Aspect.CHAIN)[0].code

    for word, codes in CODES_OF_WORD.items():
        if words.startswith(word):
            assert code in codes


@pytest.mark.parametrize(("runs", "rim", "words"), DIRECTIONS)
def test_a_refused_rim_lies_beyond_its_limit_and_another_within(runs, rim, words):
    (finding,) = findings(on(runs, rim), Aspect.CHAIN)

    assert (finding.margin < 0) == (finding.outcome.value == "no")


@pytest.mark.parametrize("row", [pytest.param(r, id=r["pair_id"]) for r in MULTI])
@pytest.mark.parametrize("turned", [False, True])
def test_several_strands_need_equal_rows_besides(row, turned):
    one, other = (row["b"], row["a"]) if turned else (row["a"], row["b"])
    single = findings(on(one, other), Aspect.CHAIN)[0].outcome.value

    double = {f.outcome.value for f in on(one, other, strands=2).checks if f.aspect is Aspect.CHAIN}

    assert double == ({single} if row["multi_strand"] == "same" else {"no"})


@pytest.mark.parametrize(
    "row", [pytest.param(r, id=r["pair_id"]) for r in MULTI if r["multi_strand"] != "same"]
)
def test_the_row_distance_is_given_where_one_strand_would_run(row):
    apart = abs(float(row["transverse_pitch_a_mm"]) - float(row["transverse_pitch_b_mm"]))
    verdict = on(row["a"], row["b"], strands=2)

    if on(row["a"], row["b"]).checks[0].outcome.value != "no":
        assert found(verdict.checks[0].facts, fact("rows_do_not_line_up", difference_mm=round(apart, 2)))
        assert Aspect.STRANDS in {f.aspect for f in verdict.deciding}


@pytest.mark.parametrize("name", [c.designation for c in chains()])
def test_every_chain_runs_on_the_rim_that_is_cut_for_it(name):
    assert screen(chain(name), chain(name)).outcome.value == "ok"


def test_the_same_pair_is_worse_one_way_than_the_other():
    assert on("12A", "12B").checks[0].facts != on("12B", "12A").checks[0].facts
    assert screen(chain("41"), chain("420")).outcome.value == "ok"
    assert screen(chain("420"), chain("41")).outcome.value == "review"


@pytest.mark.parametrize(
    ("threshold", "value", "runs", "rim", "becomes"),
    [
        ("roller_undersize_poor_share", 0.08, "08A", "08B", "review"),
        ("side_play_poor_share", 0.15, "16B", "16A", "review"),
        ("side_play_normal_share", 0.09, "20B", "20A", "ok"),
        ("side_play_thin_share", 0.01, "20A", "20B", "ok"),
        ("pitch_tolerance_mm", 0.4, "04B", "25", "no"),
    ],
)
def test_the_thresholds_of_the_screening_rule_are_settings(threshold, value, runs, rim, becomes):
    limits = Thresholds.with_rules({threshold: value})

    assert screen(chain(runs), chain(rim), limits=limits).outcome.value == becomes


def test_a_setting_that_does_not_exist_is_named():
    with pytest.raises(ValueError, match="`rules` has no threshold side_play"):
        Thresholds.with_rules({"side_play": 0.1})


@pytest.mark.parametrize("teeth", [12, 23, 24, 29, 30, 60, 90])
def test_double_pitch_on_single_pitch_is_for_review_as_no_source_shows_a_least_count(teeth):
    verdict = judge(
        place(chain=chain("2040"), teeth=15, single_cut=True), part(chain=chain("40"), teeth=teeth)
    )

    assert verdict.checks[0].outcome.value == "review"


@pytest.mark.parametrize(("stated", "outcome"), [(24, "no"), (20, "review")])
def test_double_pitch_on_single_pitch_is_refused_below_the_count_that_the_plant_states(stated, outcome):
    name = "double_pitch_no_below_teeth"
    practice = Practice(thresholds=Thresholds.with_rules({name: stated}), stated=(name,))
    required = place(chain=chain("2040"), teeth=10, single_cut=True)

    verdict = judge(required, part(chain=chain("40"), teeth=20), practice=practice)

    assert verdict.checks[0].outcome.value == outcome


def test_a_measured_tooth_width_decides_where_the_rim_is_cut_for_another_chain():
    wide = part(chain=chain("530"), tooth_width_mm=9.6)

    assert judge(place(chain=chain("10B")), wide).checks[0].outcome.value == "review"
    assert judge(place(chain=chain("10A")), wide).checks[0].outcome.value == "no"
