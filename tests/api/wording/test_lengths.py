"""The inch is 25.4 mm exactly (definition of 1959)."""

from collections.abc import Iterator

import pytest
from django.utils import translation

from api.wording.lengths import inches_first, length_text, mm_text, size_text, sizes_text
from api.wording.sentences import sentence
from inventory.facts import fact

ROLLER = fact("roller_too_large", chain="08B", rim="08A", roller_mm=8.51, seat_max_mm=8.2699)


@pytest.fixture
def inches() -> Iterator[None]:
    marker = inches_first.set(True)
    yield
    inches_first.reset(marker)


def test_an_inch_size_has_its_fraction_and_two_decimals_of_a_millimetre() -> None:
    assert size_text(49.2125) == "1 15/16 in (49.21 mm)"
    assert size_text(40.0) == "40 mm"


def test_a_small_length_keeps_two_digits() -> None:
    assert mm_text(0.0125) == "0.013"
    assert mm_text(0.0) == "0"


def test_a_key_names_its_unit_once() -> None:
    assert sizes_text(8.0, 7.0) == "8 × 7 mm"
    assert sizes_text(12.7, 9.525) == "1/2 × 3/8 in (12.7 × 9.53 mm)"


@pytest.mark.usefixtures("inches")
def test_whoever_chose_inches_has_both_units_everywhere() -> None:
    assert length_text(8.5, 2) == "0.335 in (8.50 mm)"
    assert size_text(40.0) == "1.575 in (40 mm)"
    assert sizes_text(8.0, 7.0) == "0.315 × 0.276 in (8 × 7 mm)"
    assert "0.335 in (8.51 mm)" in sentence(ROLLER)


@pytest.mark.usefixtures("inches")
def test_the_language_decides_the_decimal_comma_of_both_units() -> None:
    with translation.override("de"):
        assert "0,335 in (8,51 mm)" in sentence(ROLLER)


def test_a_sentence_in_millimetres_is_not_kept_for_a_reader_in_inches() -> None:
    assert "in (8.51 mm)" not in sentence(ROLLER)
    marker = inches_first.set(True)
    assert "in (8.51 mm)" in sentence(ROLLER)
    inches_first.reset(marker)
