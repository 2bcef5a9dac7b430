import pytest

from api.wording.sentences import sentence
from inventory.facts import fact

HERE = {"is_here": True, "is_temporary": False}
USUAL = {"against": "SPR-HARD", "against_lives": 6, "against_median_hours": 9010.0}
EXACT = {"p_value": 0.0476, "method": "exact_permutation", "ways": 84, "comparisons": 1}
LOG_RANK = {"p_value": 0.0004, "method": "log_rank", "ways": None, "comparisons": 3}


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (
            fact("lives_shorter", lives=3, median_hours=3000.0, **HERE, **USUAL, **EXACT),
            "It lasted a third as long as SPR-HARD here: 3 lives with a median of 3,000 h against 6 lives with a median of"
            " 9,010 h, p = 0.048 (exact permutation, 84 ways). Where all last alike, one place in ten has such a caution by"
            " chance.",
        ),
        (
            fact("lives_longer", lives=1, median_hours=27_030.0, **HERE, **USUAL, **LOG_RANK),
            "It lasted 3 times as long as SPR-HARD here: 1 life of 27,030 h against 6 lives with a median of 9,010 h, "
            "p = 0.0004 (log-rank).",
        ),
        (
            fact(
                "lives_shorter",
                lives=3,
                median_hours=None,
                is_here=False,
                is_temporary=True,
                **USUAL,
                **LOG_RANK,
            ),
            "It lasted shorter than SPR-HARD at positions of the same chain, teeth and role: 3 lives (fitted for a limited "
            "time only) against 6 lives with a median of 9,010 h, p = 0.0004 (log-rank). With the 3 comparisons made here, where all last "
            "alike, one place in ten has such a caution by chance.",
        ),
        (
            fact("lives_alike", lives=3, median_hours=8000.0, **HERE, **USUAL, **EXACT),
            "No difference to SPR-HARD is shown here: 3 lives with a median of 8,000 h against 6 lives with a median of "
            "9,010 h, p = 0.048 (exact permutation, 84 ways).",
        ),
        (
            fact(
                "lives_too_few_to_compare",
                lives=2,
                **HERE,
                against="SPR-HARD",
                against_lives=2,
                least_lives=2,
                least_together=5,
            ),
            "Too few lives to compare: 2 lives here against 2 lives of SPR-HARD; 2 of each, 5 together and one that ended are "
            "needed.",
        ),
        (
            fact(
                "lives_all_shorter",
                lives=2,
                median_hours=250.0,
                **HERE,
                against="SPR-HARD",
                against_lives=2,
                against_median_hours=9000.0,
            ),
            "Every life here was shorter than any of SPR-HARD: 2 lives with a median of 250 h against 2 lives with a median "
            "of 9,000 h. That is too few to compare.",
        ),
        (
            fact("lives_without_usual_part", lives=1, **HERE),
            "Too few lives to compare: 1 life here and none of the usual part.",
        ),
        (
            fact(
                "number_outlasted",
                item="SPR-SOFT",
                against=("SPR-HARD",),
                lives=3,
                median_hours=2980.0,
                against_lives=4,
                against_median_hours=9210.0,
                p_value=0.02857,
            ),
            "SPR-SOFT lasted shorter at these positions than SPR-HARD: 3 lives with a median of 2,980 h against 4 lives with "
            "a median of 9,210 h, p = 0.029. It is not the number to keep.",
        ),
        (
            fact("usual_part_lives", lives=2, median_hours=None, is_here=True),
            "This part is usually fitted here: 2 lives; most of them have not ended yet.",
        ),
    ],
)
def test_the_sentence_gives_lives_medians_and_the_test(found, text):
    assert sentence(found) == text
