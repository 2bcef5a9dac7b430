"""Sentences of the figures that a manager asks for."""

import pytest

from api.wording.sentences import sentence
from inventory.facts import fact


@pytest.mark.parametrize(
    ("told", "text"),
    [
        (
            fact("figure_filled", criticality="vital"),
            "Jobs that got all they requested, for drives of the class vital. The rows are those that did not.",
        ),
        (
            fact("figure_filled", criticality=None),
            "Jobs that got all they requested, for drives without a class or for no drive on record. The rows are those that did not.",
        ),
        (fact("figure_wear_due", days=1), "Positions whose chain reaches its wear limit within 1 day."),
        (fact("figure_wear_due", days=90), "Positions whose chain reaches its wear limit within 90 days."),
    ],
)
def test_a_figure_says_what_it_counts(told, text):
    assert sentence(told) == text
