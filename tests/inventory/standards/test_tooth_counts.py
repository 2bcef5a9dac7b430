"""How many teeth and strands are taken: the limits belong to what is allowed."""

import pytest

from inventory.number_checks import InvalidNumber
from inventory.standards.tooth_counts import counted_teeth, drive_teeth, strand_count


@pytest.mark.parametrize(
    ("check", "least", "most"), [(counted_teeth, 6, 400), (drive_teeth, 5, 400), (strand_count, 1, 10)]
)
def test_the_limits_are_allowed_and_what_lies_beyond_is_not(check, least, most):
    assert (check("count", least), check("count", most)) == (least, most)
    for beyond in (least - 1, most + 1):
        with pytest.raises(InvalidNumber):
            check("count", beyond)


def test_half_a_tooth_is_an_effective_count_and_no_counted_one():
    assert drive_teeth("teeth", 8.5) == 8.5
    for check, bad in ((drive_teeth, 8.25), (counted_teeth, 8.5)):
        with pytest.raises(InvalidNumber):
            check("teeth", bad)
