import math
import pickle
import re
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from inventory.array_checks import (
    demand_matrix,
    demand_series,
    flags,
    not_negative_array,
    number_list,
)
from inventory.number_checks import (
    InvalidNumber,
    count,
    fraction,
    not_negative,
    number,
    positive,
    quantity,
    whole,
)

NO_NUMBERS = [None, True, False, np.bool_(True), "12", b"12", "", [], {}, 1j, object()]
ENDLESS = [math.nan, math.inf, -math.inf, np.float64("nan"), Decimal("NaN"), 10**400]
CHECKS = [number, positive, not_negative, quantity, fraction, whole]


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("value", NO_NUMBERS, ids=repr)
def test_what_is_no_number_is_refused_by_name(check, value):
    with pytest.raises(InvalidNumber, match="`pitch_mm` must be a number, not ") as refused:
        check("pitch_mm", value)
    assert (refused.value.parameter, refused.value.code) == ("pitch_mm", "not_a_number")


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("value", ENDLESS, ids=repr)
def test_what_has_no_end_is_refused_by_name(check, value):
    with pytest.raises(InvalidNumber, match="`pitch_mm` must be finite, not ") as refused:
        check("pitch_mm", value)
    assert refused.value.code == "not_finite"


@pytest.mark.parametrize("value", [0.5, Decimal("0.5"), Fraction(1, 2), np.float32(0.5), np.float64(0.5)])
def test_every_kind_of_number_becomes_a_float(value):
    for check in (number, positive, not_negative, quantity, fraction):
        assert (check("share", value), type(check("share", value))) == (0.5, float)


@pytest.mark.parametrize("value", [3, 3.0, np.int64(3), Decimal(3)])
def test_every_kind_of_whole_number_becomes_an_int(value):
    assert (whole("strands", value), type(whole("strands", value))) == (3, int)


REFUSALS = [
    (lambda: positive("a", 0), "not_positive", "`a` must be more than 0, not 0."),
    (lambda: positive("a", 5, most=4), "above_most", "`a` must be 4 or less, not 5."),
    (lambda: positive("a", 1e-10, least=1e-9), "below_least", "`a` must be 1e-09 or more, not 1e-10."),
    (lambda: not_negative("a", -1), "below_least", "`a` must be 0 or more, not -1."),
    (
        lambda: not_negative("a", 1e8, most=1e7),
        "above_most",
        "`a` must be from 0 to 10,000,000, not 1e+08.",
    ),
    (
        lambda: number("a", 0.05, least=0.1, most=1000),
        "below_least",
        "`a` must be from 0.1 to 1,000, not 0.05.",
    ),
    (lambda: quantity("a", 0), "not_positive", "`a` must be more than 0, not 0."),
    (lambda: quantity("a", 2e9), "above_most", "`a` must be 1,000,000,000 or less, not 2e+09."),
    (lambda: quantity("a", 1e-10), "below_least", "`a` must be 1e-09 or more, not 1e-10."),
    (
        lambda: fraction("a", 1),
        "not_between_0_and_1",
        "`a` must be between 0 and 1, neither of them included, not 1.",
    ),
    (
        lambda: fraction("a", 0),
        "not_between_0_and_1",
        "`a` must be between 0 and 1, neither of them included, not 0.",
    ),
    (lambda: whole("a", 2.5), "not_whole", "`a` must be a whole number from 0, not 2.5."),
    (lambda: whole("a", 0, least=1), "not_whole", "`a` must be a whole number from 1, not 0."),
    (lambda: whole("a", 11, 1, 10), "not_whole", "`a` must be a whole number from 1 to 10, not 11."),
    (lambda: count("a", 2.0, 1, 10), "not_whole", "`a` must be a whole number from 1 to 10, not 2.0."),
    (
        lambda: number_list("a", [1, -2], most=9),
        "below_least",
        "`a[1]` must be from 0 to 9, not -2.",
    ),
    (lambda: number_list("a", [1, "2"], most=9), "not_a_number", "`a[1]` must be a number, not '2'."),
    (
        lambda: number_list("a", [[1, 2]], most=9),
        "wrong_shape",
        "`a` must be one flat list of numbers, not an array of shape (1, 2).",
    ),
    (
        lambda: number_list("a", [[1, 2], [1]], most=9),
        "wrong_shape",
        "`a` must be one flat list of numbers, not rows of different length.",
    ),
    (
        lambda: flags("a", [1, 2], size=2),
        "not_true_or_false",
        "`a` must be 2 true or false values, not [1, 2].",
    ),
    (
        lambda: flags("a", [1], size=2),
        "not_true_or_false",
        "`a` must be 2 true or false values, not [1].",
    ),
    (
        lambda: not_negative_array("a", [1, math.inf]),
        "not_finite",
        "`a` must hold finite numbers, not inf.",
    ),
    (
        lambda: not_negative_array("a", [[1, -3]]),
        "below_least",
        "`a` must hold numbers of 0 or more, not -3.",
    ),
    (
        lambda: not_negative_array("a", [[1, 2], [3]]),
        "not_a_number",
        "`a` must hold numbers only, in rows of one length, not [[1, 2], [3]].",
    ),
    (
        lambda: demand_series("a", []),
        "wrong_shape",
        "`a` must be one record with at least one period, not an array of shape (0,).",
    ),
    (
        lambda: demand_matrix("a", [1, 2]),
        "wrong_shape",
        "`a` must be one row per item with at least one period, not an array of shape (2,).",
    ),
]


@pytest.mark.parametrize(("refuse", "code", "sentence"), REFUSALS)
def test_a_refusal_names_the_parameter_the_rule_and_what_came(refuse, code, sentence):
    with pytest.raises(InvalidNumber, match=f"^{re.escape(sentence)}$") as refused:
        refuse()
    assert refused.value.code == code


def test_a_refusal_carries_its_limits_and_survives_another_process():
    with pytest.raises(InvalidNumber) as refused:
        number("bore_mm", 5, least=10, most=20)
    again = pickle.loads(pickle.dumps(refused.value))
    assert again.values == {"value": 5.0, "least": 10, "most": 20}
    assert (f"{again}", again.parameter) == ("`bore_mm` must be from 10 to 20, not 5.", "bore_mm")


def test_limits_themselves_are_allowed():
    assert number("a", 4, least=4, most=4) == 4
    assert whole("a", 10, 1, 10) == 10
    assert count("a", 1, 1, 10) == 1


def test_arrays_come_back_in_their_shape():
    assert number_list("a", [], most=9).tolist() == []
    assert number_list("a", (1, Decimal("2.5")), most=9).tolist() == [1, 2.5]
    assert not_negative_array("a", 3).shape == ()
    assert demand_series("a", [0, 2]).tolist() == [0, 2]
    assert demand_matrix("a", [[0, 2]]).shape == (1, 2)
    assert flags("a", [1, 0, True], size=3).tolist() == [True, False, True]
    assert flags("a", [], size=0).size == 0


def test_a_list_is_copied():
    given = np.array([1.0, 2.0])
    assert number_list("a", given, most=9) is not given
