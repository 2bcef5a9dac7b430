"""Rules merged into verdicts: never over a physical no, never along a chain, never silent."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drives.place.item_rules import ESSENTIAL, SETTLED, ItemRule, RuleKind, with_rules
from drives.place.verdict import judge_for_place
from inventory.interchange.vocabulary import GRADE_RANK, OUTCOME_RANK, Aspect, Grade, HubStyle, Outcome
from tests.drives.place.samples import driver, duty, sprocket
from tests.drives.place.test_properties import DUTIES
from tests.examples import some_of
from tests.inventory.interchange.strategies import FAMILIAR, parts, places

TODAY = date(2026, 5, 4)
B, C = 2, 3
GIVEN = {"given_by": "Ines Okafor", "reason": "ran two seasons", "valid_from": date(2026, 1, 1)}
REPLACES = ItemRule(
    kind=RuleKind.REPLACES, item=B, stock_number="B", instead_of=1, instead_of_number="A", **GIVEN
)
NEVER = ItemRule(kind=RuleKind.NEVER, item=B, stock_number="B", **GIVEN)
C_HUB = driver(hub_style=HubStyle.C)
"""Asks for a hub on both sides: a hub on one side is for review."""


def ruled(verdict, *rules, offered=None, lifting=False, wanted=True):
    return with_rules(
        verdict,
        rules,
        offered=offered or sprocket(),
        lifting=lifting,
        on=TODAY,
        is_wanted=lambda rule: wanted,
    )


def for_review():
    found = judge_for_place(C_HUB, sprocket(), duty=duty())
    assert (found.grade, [one.aspect for one in found.deciding]) == (Grade.NEEDS_REVIEW, [Aspect.HUB])
    return found


def codes(verdict):
    return [one.code for one in verdict.cautions if one.code.startswith("rule")]


def test_what_was_for_review_is_settled_and_stays_to_be_read():
    before = for_review()
    after = ruled(before, REPLACES)
    assert after.grade is Grade.DROP_IN
    [hub] = [one for one in after.checks if one.aspect is Aspect.HUB]
    assert [one.code for one in hub.facts] == ["hub_b_for_c", "settled_by_rule"]
    [rule] = [one for one in after.checks if one.aspect is Aspect.RULE]
    assert rule.reason.as_json() == {
        "code": "rule_replaces",
        "values": {
            "from_on": "2026-01-01",
            "given_by": "Ines Okafor",
            "instead_of": "A",
            "item": "B",
            "reason": "ran two seasons",
            "until_on": None,
        },
    }


def test_what_must_never_serve_is_unfit_and_wins_over_what_may_replace():
    after = ruled(for_review(), REPLACES, NEVER)
    assert (after.grade, [one.code for one in after.deciding]) == (Grade.UNFIT, ["rule_never"])
    assert codes(after) == ["rule_under_one_that_forbids"]


@pytest.mark.parametrize(
    ("verdict", "offered", "lifting", "code"),
    [
        (judge_for_place(C_HUB, sprocket(bore_mm=40.0), duty=duty()), None, False, "rule_not_over_refusal"),
        (for_review(), None, True, "rule_not_on_lifting_drive"),
        (for_review(), sprocket(bore_mm=None), False, "rule_needs_attributes"),
        (for_review(), sprocket(teeth=None), False, "rule_needs_attributes"),
    ],
)
def test_a_rule_without_effect_says_why_and_changes_no_finding(verdict, offered, lifting, code):
    after = ruled(verdict, REPLACES, offered=offered, lifting=lifting)
    assert (after.findings, codes(after)) == (verdict.findings, [code])


def test_a_key_that_was_never_measured_is_not_decided_by_a_rule():
    bare = sprocket(keyway_width_mm=None)
    verdict = judge_for_place(C_HUB, bare, duty=duty())
    assert codes(ruled(verdict, REPLACES, offered=bare)) == ["rule_needs_attributes"]


@pytest.mark.parametrize(
    ("changes", "wanted", "notes"),
    [
        ({"valid_until": date(2026, 5, 3)}, True, ["rule_replaces_ended"]),
        ({"valid_until": date(2026, 4, 1)}, True, []),
        ({"valid_from": date(2026, 5, 5)}, True, []),
        ({}, False, []),
        ({"names_place": True}, False, ["rule_original_not_wanted"]),
    ],
)
def test_what_is_over_or_about_another_part_has_no_effect(changes, wanted, notes):
    before = for_review()
    after = ruled(before, replace(REPLACES, **changes), wanted=wanted)
    assert (after.findings, codes(after)) == (before.findings, notes)


def test_the_last_day_still_counts():
    assert ruled(for_review(), replace(REPLACES, valid_until=TODAY)).grade is Grade.DROP_IN


@settings(max_examples=some_of(150), deadline=None)
@given(places(FAMILIAR), parts(FAMILIAR), DUTIES, st.booleans())
def test_no_rule_lifts_a_refusal_or_what_must_be_measured(required, offered, known, forbidden):
    before = judge_for_place(required, offered, duty=known)
    rules = (REPLACES, NEVER) if forbidden else (REPLACES,)
    after = ruled(before, *rules, offered=offered, lifting=known.lifting)

    assert after.findings[: len(before.findings)] == before.findings or before.grade is Grade.NEEDS_REVIEW
    if before.grade is Grade.UNFIT or known.lifting or forbidden:
        assert GRADE_RANK[after.grade] >= GRADE_RANK[before.grade]
    if after.grade is not before.grade and not forbidden:
        settled = [one for one in before.findings if one.outcome is Outcome.REVIEW]
        assert all(one.aspect in SETTLED for one in settled)
        assert not any(one.is_unchecked and one.aspect in ESSENTIAL for one in settled)
    for old, new in zip(before.findings, after.findings, strict=False):
        assert new.facts[: len(old.facts)] == old.facts
        assert new.outcome is old.outcome or (old.outcome, OUTCOME_RANK[new.outcome] < 2) == (
            Outcome.REVIEW,
            True,
        )
