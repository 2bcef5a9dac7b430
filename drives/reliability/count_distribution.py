"""Distribution of a count: one per unit, added up to that of the fleet."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import fft

from inventory.array_checks import FloatArray, IntArray

# Above this many terms a transform is quicker than a sum of products, and its rounding, 1e-16, no loss.
TERMS_FOR_TRANSFORM = 256
LOST_CHANCE = 1e-30


@dataclass(frozen=True, eq=False)
class CountDistribution:
    """`chances[n]` is the probability of n."""

    chances: FloatArray
    mean: float


def add_up(tables: FloatArray, *, units: IntArray) -> CountDistribution:
    """Sum of independent counts: one distribution per row of `tables`, and how many units have it.

    >>> add_up(np.array([[0.5, 0.5], [0.9, 0.1]]), units=np.array([2, 1])).chances.round(6).tolist()
    [0.225, 0.475, 0.275, 0.025]
    """
    means = tables @ np.arange(tables.shape[1])
    return CountDistribution(_product(_powers(tables, units)), float(np.dot(units, means)))


def add_up_rows(blocks: Sequence[FloatArray]) -> FloatArray:
    """Chances of the sum over the first axis of all blocks, where the last one is the number; between them may be cases."""
    return _product(blocks)


def _powers(tables: FloatArray, units: IntArray) -> list[FloatArray]:
    """Blocks of rows whose product is that of every row to the power of its units, by repeated squaring."""
    blocks = []
    while units.any():
        odd = units % 2 == 1
        if odd.any():
            blocks.append(tables[odd])
        tables, units = tables[units > 1], units[units > 1] // 2
        if units.size:
            tables = _trimmed(_multiplied(tables, tables))
    return blocks


def _product(blocks: Sequence[FloatArray]) -> FloatArray:
    result = None
    for block in blocks:
        while len(block) > 1:
            if len(block) % 2:
                block = np.concatenate((block, np.broadcast_to(np.eye(1, block.shape[-1]), block[:1].shape)))
            block = _trimmed(_multiplied(block[::2], block[1::2]))
        result = block if result is None else _multiplied(*_same_width(result, block))
    return np.ones(1) if result is None else np.asarray(_trimmed(result)[0])


def _same_width(one: FloatArray, other: FloatArray) -> FloatArray:
    both = np.zeros((2, *one.shape[:-1], max(one.shape[-1], other.shape[-1])))
    both[0, ..., : one.shape[-1]], both[1, ..., : other.shape[-1]] = one, other
    return both


def _multiplied(one: FloatArray, other: FloatArray) -> FloatArray:
    """Convolution row by row."""
    width = one.shape[-1]
    if width > TERMS_FOR_TRANSFORM:
        size = fft.next_fast_len(2 * width - 1, real=True)
        product = fft.irfft(fft.rfft(one, size) * fft.rfft(other, size), size)[..., : 2 * width - 1]
        return np.asarray(np.maximum(product, 0.0))
    result = np.zeros((*one.shape[:-1], 2 * width - 1))
    for place in range(width):
        result[..., place : place + width] += one * other[..., place, None]
    return result


def _trimmed(block: FloatArray) -> FloatArray:
    """Without the last columns in which no row has a chance."""
    likely = np.flatnonzero(block.reshape(-1, block.shape[-1]).max(axis=0) > LOST_CHANCE)
    return block[..., : likely[-1] + 1]
