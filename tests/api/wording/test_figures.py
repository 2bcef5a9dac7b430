import pytest
from django.utils import translation

from api.wording.figures import ShownCount, ShownNumber


@pytest.mark.parametrize(
    ("value", "spec", "text"),
    [
        (ShownNumber(2.234), "sig3", "2,23"),
        (ShownNumber(1234.5), "sig3", "1.230"),
        (ShownNumber(0.9971), "percent", "99,7 %"),
        (ShownNumber(0.25), "percent4", "25 %"),
        (ShownNumber(1.6), "often", "etwa 1,6 mal im Jahr"),
        (ShownCount(1234), "sig3", "1.230"),
    ],
)
def test_a_number_is_written_with_the_separators_of_the_language(value, spec, text):
    with translation.override("de"):
        assert format(value, spec) == text
