"""Random steps on the ledger's functions against the plain model.

Proves: after any such history every balance, entry, reservation, refusal and balance of the past is what a model of some
hundred lines says, and the invariants hold. Does not prove: anything of two callers at once (the storms do), of the
lengths of pieces of chain beyond their sum, of what the HTTP layer makes of it (`test_http_model`).

1,000 steps on SQLite, 1,000 others on PostgreSQL; `PROOF=long` plays 200,000 on each; `PROOF_SEED=7` begins at another seed.
"""

import os
from collections import Counter
from collections.abc import Sequence

import pytest
from django.db import connection, transaction

from tests.examples import IS_LONG
from tests.factories import MORNING
from tests.proof.deeds import LedgerDeeds
from tests.proof.driver import Driver
from tests.proof.steps import Mismatch, Step, draw, in_words, shortest

pytestmark = pytest.mark.django_db
FIRST_SEED = int(os.environ.get("PROOF_SEED", "1" if connection.vendor == "sqlite" else "10001"))
RUNS = 400 if IS_LONG else 2
LENGTH = 500


class Undo(Exception):  # noqa: N818
    """Leaves the transaction of one run without a trace."""


def played(steps: Sequence[Step], check_every: int = 100) -> Driver:
    try:
        with transaction.atomic():
            driver = Driver(LedgerDeeds(MORNING), check_every)
            driver.play(steps)
            raise Undo
    except Undo:
        return driver


def fails(steps: Sequence[Step]) -> bool:
    try:
        played(steps, check_every=len(steps))
    except Mismatch:
        return True
    return False


@pytest.mark.parametrize("seed", range(FIRST_SEED, FIRST_SEED + RUNS))
def test_the_ledger_does_what_the_plain_model_says(seed: int) -> None:
    steps = draw(seed, LENGTH)
    try:
        driver = played(steps)
    except Mismatch as mismatch:
        fewer = shortest(steps[: mismatch.step], fails)
        pytest.fail(f"seed {seed}: {mismatch}\n" + "\n".join(in_words(fewer)))
    words = Counter(driver.words)
    assert words["booked"] > LENGTH // 3
    assert {"StockShort", "ReservedForOthers", "again", "AlreadyReversed", "ReservationEnded"} <= set(words)
