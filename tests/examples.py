"""How long a run is, and how many cases a test draws that has as many as one likes."""

import os

IS_LONG = os.environ.get("PROOF") == "long"


def some_of(cases: int) -> int:
    """A third of them in each run, all of them with PROOF=long."""
    return cases if IS_LONG else max(cases // 3, 1)
