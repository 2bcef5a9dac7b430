"""What a reorder point r and an order quantity Q achieve. X is the demand over a lead time.

- cycle service level, P(X <= r): no shortage between an order and its arrival;
- fill rate: share of the demand met from the shelf; for single pieces ordered one for one P(X <= r), for demands of several
  pieces E[min(on hand, Z)] / E[Z] with size Z. Orders are then whole multiples of Q;
- no backorder, P(X <= r + Q): share of time in which nobody waits, where pieces are ordered one for one.

Sources: Hadley & Whitin, Analysis of Inventory Systems, 1963, chapter 4; Sherbrooke, Optimal Inventory Modeling of Systems,
2nd ed. 2004, chapter 2; sizes: Axsäter, Inventory Control, 2nd ed. 2006, chapter 5; worked case: Snyder & Shen, Fundamentals of
Supply Chain Theory, 2nd ed., Example 5.8.
"""

import numpy as np
from scipy import fft

from inventory.array_checks import FloatArray
from inventory.stocking.lead_time_demand import LeadTimeDemand, allowed_above

DIRECT_PRODUCTS = 20_000_000
"""Products up to which a sum of two demands is formed term by term; beyond, by Fourier transform."""


class ServiceProfile:
    """Measures for every reorder point from -1 up to `most`, at the cost of one: entry r + 1 of each array is that of r.

    The stock position is uniform on r+1 … r+Q, so each measure is a mean over a window of base stocks. `sizes[k]` is the share
    of demands for k pieces; all are for one piece if left out. `unfilled` is 1 less the fill rate, `on_hand` the mean over time.
    """

    def __init__(
        self,
        demand: LeadTimeDemand,
        order_quantity: int,
        sizes: FloatArray | None = None,
        most: int | None = None,
    ) -> None:
        self.quantity = order_quantity
        reach = len(demand) + (0 if sizes is None else len(sizes))
        most = reach if most is None else most
        top = most + order_quantity
        above = demand.chances_above(top)
        unfilled = np.append(1.0, above[:-1]) if sizes is None else _unfilled(above, sizes)
        self.unfilled = np.clip(self._window(unfilled), 0.0, 1.0)
        self.expected_backorders = self._window(demand.expected_above_each(top))
        levels = np.arange(most + 2) + (order_quantity - 1) / 2
        self.on_hand = np.maximum(levels - demand.mean + self.expected_backorders, 0.0)

    def _window(self, by_base_stock: FloatArray) -> FloatArray:
        if self.quantity == 1:
            return by_base_stock
        sums = np.cumsum(by_base_stock[::-1])[::-1]
        later = np.append(sums[self.quantity :], 0.0)
        return np.asarray((sums[: len(later)] - later) / self.quantity)

    def smallest_for_fill_rate(self, target: float) -> int:
        """Smallest r >= 0 whose fill rate reaches the target."""
        return int(np.argmax(self.unfilled[1:] <= allowed_above(target)))


def _unfilled(above: FloatArray, sizes: FloatArray) -> FloatArray:
    """Unfilled share at base stocks 0, 1, …: E[min(on hand, Z)] sums P(on hand >= k) P(Z >= k) over k."""
    at_least = np.append(np.cumsum(sizes[::-1])[::-1][1:], 0.0)
    served = _convolved(1.0 - above, np.minimum(at_least, 1.0))[: len(above) - 1]
    mean_size = float(np.dot(np.arange(len(sizes)), sizes))
    return np.append(1.0, np.clip(1.0 - served / mean_size, 0.0, 1.0))


def _convolved(left: FloatArray, right: FloatArray) -> FloatArray:
    if len(left) * len(right) <= DIRECT_PRODUCTS:
        return np.asarray(np.convolve(left, right))
    length = len(left) + len(right) - 1
    return np.asarray(fft.irfft(fft.rfft(left, length) * fft.rfft(right, length), length))
