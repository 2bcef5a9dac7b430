"""Runs the same deed in many threads at once; for tests on PostgreSQL."""

from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from django.db import connection

TAKERS = 8


def outcomes(acts: list[Callable[[], Any]]) -> Counter[str]:
    """Run the acts in threads that all begin at once; counts what became of them."""
    start = Barrier(TAKERS)

    def worker(mine: list[Callable[[], Any]]) -> list[str]:
        start.wait()
        try:
            return [outcome_of(act) for act in mine]
        finally:
            connection.close()

    with ThreadPoolExecutor(TAKERS) as pool:
        results = pool.map(worker, [acts[n::TAKERS] for n in range(TAKERS)])
        return Counter(word for words in results for word in words)


def outcome_of(act: Callable[[], Any]) -> str:
    try:
        result = act()
    except Exception as error:
        return type(error).__name__
    return "again" if getattr(result, "is_replay", False) else "booked"
