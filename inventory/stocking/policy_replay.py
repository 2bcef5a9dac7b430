"""Replay of one policy over a record: which pieces the shelf would have met.

Orders bring whole multiples of order-up-to less reorder point and take the lead time; what is short waits for them. The shelf is
full at the beginning.
"""

from collections.abc import Sequence
from heapq import heappop, heappush
from math import ceil

import numpy as np

from inventory.array_checks import FloatArray


def pieces_met(
    days: Sequence[float], pieces: Sequence[int], *, lead_days: float, reorder_point: int, order_up_to: int
) -> FloatArray:
    """Of each demand, the pieces that were on the shelf; `days` in order.

    >>> pieces_met([0, 3, 40], [1, 1, 1], lead_days=10, reorder_point=0, order_up_to=1).tolist()
    [1.0, 0.0, 1.0]
    """
    lot = order_up_to - reorder_point
    on_hand, position = order_up_to, order_up_to
    due: list[tuple[float, int]] = []
    met = np.zeros(len(days))
    for index, (day, wanted) in enumerate(zip(days, pieces, strict=True)):
        while due and due[0][0] <= day:
            on_hand += heappop(due)[1]
        met[index] = min(max(on_hand, 0), wanted)
        on_hand, position = on_hand - wanted, position - wanted
        if position <= reorder_point:
            ordered = lot * ceil((reorder_point + 1 - position) / lot)
            heappush(due, (day + lead_days, ordered))
            position += ordered
    return met
