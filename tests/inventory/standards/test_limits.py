import math
import re
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from inventory.standards.limits import count_within, not_negative, number, positive, share, whole

NO_NUMBERS = [None, True, False, np.bool_(True), "12", b"12", "", [], {}, 1j, object()]


@pytest.mark.parametrize("check", [number, positive, not_negative, share, whole])
@pytest.mark.parametrize("value", NO_NUMBERS, ids=repr)
def test_what_is_no_number_is_refused_by_name(check, value):
    with pytest.raises(ValueError, match="`pitch_mm` must be a number, not "):
        check("pitch_mm", value)


@pytest.mark.parametrize("check", [number, positive, not_negative, share, whole])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, np.float64("nan"), Decimal("NaN"), 10**400])
def test_what_has_no_end_is_refused_by_name(check, value):
    with pytest.raises(ValueError, match="`pitch_mm` must be finite, not "):
        check("pitch_mm", value)


@pytest.mark.parametrize("value", [0.5, Decimal("0.5"), Fraction(1, 2), np.float32(0.5), np.float64(0.5)])
def test_every_kind_of_number_becomes_a_float(value):
    for check in (number, positive, not_negative, share):
        assert (check("share", value), type(check("share", value))) == (0.5, float)


@pytest.mark.parametrize("value", [3, 3.0, np.int64(3), Decimal(3)])
def test_every_kind_of_whole_number_becomes_an_int(value):
    assert (whole("strands", value), type(whole("strands", value))) == (3, int)


@pytest.mark.parametrize(
    ("refuse", "sentence"),
    [
        (lambda: positive("a", 0), "`a` must be more than 0, not 0."),
        (lambda: positive("a", 5, most=4), "`a` must be 4 or less, not 5."),
        (lambda: not_negative("a", -1), "`a` must be 0 or more, not -1."),
        (lambda: not_negative("a", 1e8, most=1e7), "`a` must be from 0 to 10,000,000, not 1e+08."),
        (lambda: number("a", 0.05, least=0.1, most=1000), "`a` must be from 0.1 to 1,000, not 0.05."),
        (lambda: share("a", 1), "`a` must be between 0 and 1, neither of them included, not 1."),
        (lambda: share("a", 0), "`a` must be between 0 and 1, neither of them included, not 0."),
        (lambda: whole("a", 2.5), "`a` must be a whole number from 0, not 2.5."),
        (lambda: whole("a", 0, least=1), "`a` must be a whole number from 1, not 0."),
        (lambda: whole("a", 11, 1, 10), "`a` must be a whole number from 1 to 10, not 11."),
        (lambda: count_within("a", 2.0, 1, 10), "`a` must be a whole number from 1 to 10, not 2.0."),
    ],
)
def test_a_limit_is_said_with_what_came(refuse, sentence):
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        refuse()


def test_limits_themselves_are_allowed():
    assert number("a", 4, least=4, most=4) == 4
    assert whole("a", 10, 1, 10) == 10
    assert count_within("a", 1, 1, 10) == 1
