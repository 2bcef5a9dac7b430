import pytest
from django.core.exceptions import ValidationError
from django.utils import translation

from api.wording.record_rules import CONSTRAINTS
from api.wording.sentences import sentence
from inventory.facts import fact
from inventory.models.messages import fact_of_invalid, invalid


@pytest.mark.parametrize("code", sorted(CONSTRAINTS))
def test_every_constraint_says_what_to_do_in_a_sentence(code: str) -> None:
    text = sentence(fact(code))

    assert text.endswith((".", "?"))
    assert "{" not in text
    assert not text.startswith("Constraint")


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("specification_teeth_within_bounds", "teeth must be from 6 to 400."),
        ("specification_bore_mm_positive", "bore_mm must be greater than 0, or empty if it is not known."),
        ("removed_not_before_installed", "removed_at must not be before installed_at."),
    ],
)
def test_a_constraint_names_the_columns(code: str, words: str) -> None:
    assert sentence(fact(code)) == words


def test_a_check_of_a_record_has_one_sentence_in_the_admin_and_in_the_api() -> None:
    error = invalid("dimension_not_of_the_chain", given_mm=12.7, chain="08B", standard_mm=9.525)

    assert isinstance(error, ValidationError)
    assert error.messages == ["12.7 mm is not 08B, which has 9.525 mm: leave out one of the two."]
    assert sentence(fact_of_invalid(error)) == error.messages[0]


def test_an_unknown_chain_comes_with_its_nearest_names() -> None:
    near = fact("chain_not_known", designation="C2043", nearest=("C2042", "C2040"))

    assert sentence(near) == "'C2043' is not a known chain designation. Nearest names: C2042 and C2040."
    assert sentence(fact("chain_not_known", designation="?", nearest=())).endswith("designation.")


def test_doubtful_sizes_ask_for_the_unit() -> None:
    centres = fact("centres_perhaps_in_inches", length_mm=24.0, pitches=5, pitch_mm=12.7, inches_in_mm=609.6)
    outside = fact("diameter_perhaps_in_inches", length_mm=3.0, pitch_diameter_mm=69.12, inches_in_mm=76.2)

    assert sentence(centres) == "24 mm is under 5 pitches of 12.7 mm: inches? 24 in would be 609.6 mm."
    assert "far below the pitch diameter of 69.1 mm: inches?" in sentence(outside)
    with translation.override("de"):
        assert "609,6 mm" in sentence(centres)
