"""Lives as people report them: hours or bounds, what ended each, by which mechanism, and how many alike."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from drives.reliability.lives import OBSERVED_ENDS, UNKNOWN_MECHANISM, Lives


@dataclass(frozen=True, slots=True)
class ReportedLife:
    """One row of a report: the end lies between `lower_hours` and `upper_hours`, which are equal where the hour is known.

    `ended_by` is as in `lives.from_rows`; `weight` such rows are alike.
    """

    lower_hours: float
    upper_hours: float
    ended_by: str | None = None
    mechanism: str | None = None
    weight: float = 1.0

    @property
    def is_observed(self) -> bool:
        """The end was seen, or found between two looks."""
        return self.ended_by in OBSERVED_ENDS

    @property
    def mechanism_name(self) -> str:
        """The mechanism that ended it, `unknown` where none was given."""
        return self.mechanism or UNKNOWN_MECHANISM


def lives_of(rows: Sequence[ReportedLife], *, mechanism: str | None = None) -> Lives:
    """Reported rows as lives; against one mechanism where it is named.

    Parameters
    ----------
    rows : sequence of ReportedLife
        Bounds [h], 0 to 1e7.
    mechanism : str, optional
        An end by another one is censored: at its hour, or at the last look at which the part was still whole.

    Returns
    -------
    Lives
        One row each, in their order.

    Raises
    ------
    ValueError
        If bounds or a weight are out of range; the message names it.

    Source
    ------
    Competing risks taken as independent: Nelson, Applied Life Data Analysis, 1982, ch. 5.

    Examples
    --------
    >>> rows = [ReportedLife(900, 900, "failure", "wear"), ReportedLife(0, 400, "failure", "overload")]
    >>> lives_of(rows).failures, lives_of(rows, mechanism="wear").failures
    (2.0, 1.0)
    >>> lives_of(rows, mechanism="wear").upper_hours.tolist()
    [900.0, inf]
    """
    seen = [row.is_observed and mechanism in (None, row.mechanism_name) for row in rows]
    return Lives(
        np.array([row.lower_hours for row in rows], dtype=np.float64),
        np.array(
            [row.upper_hours if ended else math.inf for row, ended in zip(rows, seen, strict=True)],
            dtype=np.float64,
        ),
        np.array([row.weight for row in rows], dtype=np.float64),
    )


def lives_by_mechanism(rows: Sequence[ReportedLife]) -> Mapping[str, Lives]:
    """The same rows against each mechanism that ended one of them.

    Parameters
    ----------
    rows : sequence of ReportedLife
        As in `lives_of`.

    Returns
    -------
    mapping of str to Lives
        In alphabetical order; empty where no end came with a mechanism.

    Raises
    ------
    ValueError
        As `lives_of`.

    Source
    ------
    As `lives_of`.

    Examples
    --------
    >>> rows = [ReportedLife(900, 900, "failure", "wear"), ReportedLife(200, 200, "failure")]
    >>> sorted(lives_by_mechanism(rows))
    ['unknown', 'wear']
    """
    if not any(row.mechanism for row in rows if row.is_observed):
        return {}
    return {name: lives_of(rows, mechanism=name) for name in _names(rows)}


def _names(rows: Iterable[ReportedLife]) -> list[str]:
    return sorted({row.mechanism_name for row in rows if row.is_observed})
