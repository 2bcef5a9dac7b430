"""The table of words, and decisions at both ends of an estimate."""

import pytest

from inventory.standards.confidence import KIND_OF_WORD, Estimate, SourceKind, turns_on
from inventory.standards.table_rows import TABLES, table_rows

NAMES = sorted(path.stem for path in TABLES.glob("*.csv") if path.stem != "sources")


def estimate(name, value, low, high):
    return Estimate(name, value, low, high, SourceKind.MEMORY)


def names(facts):
    return [one.values["name"] for one in facts]


@pytest.mark.parametrize("name", NAMES)
def test_every_word_of_a_table_has_its_kind(name):
    assert {row["confidence"] for row in table_rows(name)} <= set(KIND_OF_WORD)


@pytest.mark.parametrize(("offered", "turns"), [(9, True), (11, True), (7.9, False), (12.1, False)])
def test_a_decision_inside_the_span_turns_on_the_estimate(offered, turns):
    limit = estimate("limit", 10.0, 8.0, 12.0)

    assert bool(turns_on(lambda least: offered >= least, limit)) is turns


def test_only_the_estimates_that_can_change_the_decision_are_named():
    near, far = estimate("near", 10.0, 9.0, 11.0), estimate("far", 2.0, 1.0, 3.0)

    assert names(turns_on(lambda a, b: max(a, b) <= 10.5, near, far)) == ["near"]


def test_two_estimates_that_only_together_change_the_decision_are_both_named():
    one, other = estimate("one", 10.0, 8.0, 12.0), estimate("other", 10.0, 8.0, 12.0)

    assert names(turns_on(lambda a, b: max(a, b) > 8.5, one, other)) == ["one", "other"]


def test_a_figure_that_is_settled_is_never_named():
    settled = estimate("limit", 10.0, 10.0, 10.0)

    assert turns_on(lambda least: least <= 10.0, settled) == ()
