"""The same random steps as requests, each with a key of its own, against the same plain model.

Proves: the HTTP layer books what the ledger would book and refuses what it would refuse, with 400 for what can never be and 409
for what the shelf does not allow; a request sent again with its key has the first answer and no effect, with another body
422; sent again with another key but its reference it is booked once. Does not prove: anything of requests at once.

250 steps on each database; `PROOF=long` plays 20,000.
"""

from collections import Counter
from collections.abc import Sequence

import pytest
from django.core.cache import cache
from django.db import transaction
from rest_framework.test import APIClient

from tests.examples import IS_LONG
from tests.factories import MORNING
from tests.proof.deeds import HttpDeeds
from tests.proof.driver import Driver
from tests.proof.steps import Mismatch, Step, draw, in_words, shortest
from tests.proof.test_ledger_model import FIRST_SEED, Undo

pytestmark = pytest.mark.django_db
RUNS = 80 if IS_LONG else 1
LENGTH = 250


def played(client: APIClient, monkeypatch: pytest.MonkeyPatch, steps: Sequence[Step]) -> Driver:
    """The clock of the service is the clock of the steps."""
    cache.clear()
    try:
        with transaction.atomic(), monkeypatch.context() as patched:
            deeds = HttpDeeds(MORNING, client)
            driver = Driver(deeds, check_every=125)
            patched.setattr("django.utils.timezone.now", lambda: deeds.now)
            driver.play(steps)
            raise Undo
    except Undo:
        return driver


@pytest.mark.parametrize("seed", range(FIRST_SEED, FIRST_SEED + RUNS))
def test_the_service_does_what_the_plain_model_says(
    as_storeroom: APIClient, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    def fails(steps: Sequence[Step]) -> bool:
        try:
            played(as_storeroom, monkeypatch, steps)
        except Mismatch:
            return True
        return False

    steps = draw(seed + 500_000, LENGTH)
    try:
        driver = played(as_storeroom, monkeypatch, steps)
    except Mismatch as mismatch:
        fewer = shortest(steps[: mismatch.step], fails)
        pytest.fail(f"seed {seed}: {mismatch}\n" + "\n".join(in_words(fewer)))
    words = Counter(driver.words)
    assert words["booked"] > LENGTH // 3
    assert {"StockShort", "ReservedForOthers", "again", "another", "409", "400"} <= set(words)
