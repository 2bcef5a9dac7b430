"""Stored JSON is shown in words, not as JSON."""

import re
from decimal import Decimal

from django.utils.translation import override

from api.screens.stored_value import plain_number, stored_value
from inventory.admin.pages import PlainDecimalField


def words(value):
    return " ".join(re.sub(r"<[^>]+>", " ", str(stored_value(value))).split())


def test_names_become_labels_with_their_units():
    assert words({"bore_mm": 60.0, "single_cut": True, "lead_time_days": None}) == (
        "Bore, mm 60 Double pitch, one gap a pitch yes Lead time, days –"
    )


def test_a_code_with_its_values_becomes_its_sentence():
    value = [{"code": "same_chain", "values": {"chain": "16B"}}]
    with override("de"):
        assert words(value) == "Gleiche Kette: 16B."


def test_a_code_that_is_known_no_more_keeps_its_words():
    assert words({"code": "went_away", "values": {}}) == "went away"


def test_rows_of_the_same_names_are_a_table():
    shown = str(stored_value([{"item": "41-0115", "quantity": 1}, {"item": "41-0120", "quantity": 2}]))
    assert shown.count("<tr>") == 3
    assert shown.count('scope="col"') == 2


def test_a_long_list_is_cut_with_the_number_of_the_others():
    assert words([{"quantity": n, "other": [n]} for n in range(60)]).endswith("and 10 more")


def test_markup_in_a_stored_text_stays_text():
    assert "<b>" not in str(stored_value({"title": "<b>x</b>"}))


def test_a_number_is_shown_as_it_was_entered():
    assert PlainDecimalField().prepare_value(Decimal("12.700000")) == "12.7"
    assert PlainDecimalField().prepare_value(Decimal("120")) == "120"
    assert plain_number(Decimal("0.396875")) == "0.396875"
    with override("de"):
        assert plain_number(Decimal("12.700000")) == "12,7"
