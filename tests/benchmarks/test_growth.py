"""A larger plant around the same question leaves the work of its answer as it is, on either database; with PROOF=long ten times as large."""

import pytest
from django.core.cache import cache
from django.db import transaction

from tests.benchmarks.growth import GREATEST_GROWTH, Work, compare, measure_all
from tests.benchmarks.synthetic_group import make, size_of
from tests.examples import IS_LONG

pytestmark = pytest.mark.django_db

SMALL, LARGE = 5_000, 50_000 if IS_LONG else 12_500


def work_of(items: int) -> dict[str, Work]:
    """What each question costs in a group of that size, of which nothing stays."""
    with transaction.atomic():
        for _ in make(size_of(items)):
            pass
        cache.clear()
        work = measure_all()
        transaction.set_rollback(True)
    return work


def test_a_larger_plant_leaves_the_work_of_an_answer_as_it_is() -> None:
    rows = compare(work_of(SMALL), work_of(LARGE))
    grown = {row["what"]: row["growth"] for row in rows if row["growth"] > GREATEST_GROWTH}
    assert grown == {}
