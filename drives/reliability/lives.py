"""Lives of parts: what was seen to end, what was taken off before, what still runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from inventory.array_checks import BoolArray, FloatArray, flags, number_list
from inventory.number_checks import number

LONGEST_HOURS = 1e7
"""Eleven centuries: no part runs longer, and every power of an accepted number stays in range."""

OBSERVED_ENDS = frozenset({"failure", "limit_reached"})
"""Ends of a life that were seen. A part found worn to its limit has ended, though nothing broke."""

CENSORED_ENDS = frozenset(
    {"preventive", "opportunity", "relocated", "modification", "decommissioned", "unknown"}
)
"""The part came off, or was lost from sight, while it could have gone on."""

STILL_RUNNING = ("", None)
"""Nothing ended yet: as good as taken off today."""

UNKNOWN_MECHANISM = "unknown"


@dataclass(frozen=True, eq=False)
class Lives:
    """Lives as bounds: each end lies between `lower_hours` and `upper_hours`.

    Equal bounds are an end seen at that hour; an infinite upper bound is a life that had not ended (right-censored); a
    lower bound of 0 is an end found at the first look (left-censored); all else is an end between two looks. A weight
    stands for that many equal lives. `groups`, where given, names the pool of each life.
    """

    lower_hours: FloatArray
    upper_hours: FloatArray
    weights: FloatArray = field(default_factory=lambda: np.zeros(0))
    groups: npt.NDArray[Any] | None = None

    def __post_init__(self) -> None:
        lower = number_list("lower_hours", self.lower_hours, most=LONGEST_HOURS)
        upper = _upper_bounds(self.upper_hours, lower)
        weights = (
            np.ones(lower.size)
            if np.size(self.weights) == 0
            else number_list("weights", self.weights, most=LONGEST_HOURS)
        )
        if weights.size != lower.size:
            raise ValueError(
                f"`weights` must be {lower.size} numbers, one for each life, not {weights.size}."
            )
        if (weights <= 0).any():
            raise ValueError("`weights` must all be more than 0.")
        groups = None if self.groups is None else np.array(self.groups)
        if groups is not None and groups.shape != lower.shape:
            raise ValueError(f"`groups` must be {lower.size} names, one for each life.")
        for name, value in (
            ("lower_hours", lower),
            ("upper_hours", upper),
            ("weights", weights),
            ("groups", groups),
        ):
            if value is not None:
                value.setflags(write=False)
            object.__setattr__(self, name, value)

    def __len__(self) -> int:
        return int(self.lower_hours.size)

    @property
    def is_exact(self) -> BoolArray:
        """Ends seen at a known hour."""
        return np.asarray(self.lower_hours == self.upper_hours)

    @property
    def is_observed(self) -> BoolArray:
        """Ends that were seen, at a known hour or between two."""
        return np.asarray(np.isfinite(self.upper_hours))

    @property
    def is_right_censored_only(self) -> bool:
        """True where every life ended at a known hour or had not ended."""
        return bool(np.all(self.is_exact | ~self.is_observed))

    @property
    def failures(self) -> float:
        """Observed ends, weights counted."""
        return float(self.weights[self.is_observed].sum())

    @property
    def suspensions(self) -> float:
        """Lives that had not ended, weights counted."""
        return float(self.weights[~self.is_observed].sum())

    @property
    def exposure_hours(self) -> float:
        """Hours run in all; an end between two looks counts from the middle of them."""
        middle = np.where(self.is_observed, (self.lower_hours + self.upper_hours) / 2, self.lower_hours)
        return float(np.dot(self.weights, middle))


def _upper_bounds(values: Any, lower: FloatArray) -> FloatArray:
    upper = np.array(values, dtype=np.float64)
    if upper.shape != lower.shape:
        raise ValueError(f"`upper_hours` must be {lower.size} numbers, one for each life.")
    wrong = np.isnan(upper) | (upper < lower) | ((upper > LONGEST_HOURS) & np.isfinite(upper))
    if wrong.any():
        place = int(np.argmax(wrong))
        raise ValueError(
            f"`upper_hours[{place}]` must be from {lower[place]:g} (its lower bound) to {LONGEST_HOURS:g}, or infinite"
            f" for a life that had not ended, not {upper[place]:g}."
        )
    if (upper == 0).any():
        place = int(np.argmax(upper == 0))
        raise ValueError(
            f"`upper_hours[{place}]` must be more than 0 for a life that ended: a part that never ran has no life."
        )
    return upper


def right_censored(
    hours: npt.ArrayLike,
    *,
    observed: npt.ArrayLike,
    weights: npt.ArrayLike | None = None,
    groups: npt.ArrayLike | None = None,
) -> Lives:
    """Lives from hours run and whether the end was seen.

    Parameters
    ----------
    hours : array_like of float
        Hours run [h], 0 to 1e7; more than 0 where the end was seen.
    observed : array_like of bool
        True where the end was seen.
    weights : array_like of float, optional
        Equal lives that a row stands for [-], more than 0.
    groups : array_like, optional
        Pool of each life, names or numbers.

    Returns
    -------
    Lives
        One row each.

    Raises
    ------
    ValueError
        If sizes differ or a value is out of range; the message names it.

    Source
    ------
    Definition.

    Examples
    --------
    >>> lives = right_censored([1200, 3000], observed=[True, False])
    >>> lives.failures, lives.suspensions, lives.exposure_hours
    (1.0, 1.0, 4200.0)
    """
    lower = number_list("hours", hours, most=LONGEST_HOURS)
    seen = flags("observed", observed, size=lower.size)
    at_once = seen & (lower == 0)
    if at_once.any():
        _refuse_no_hours(f"hours[{int(np.argmax(at_once))}]")
    return Lives(
        lower,
        np.where(seen, lower, np.inf),
        np.ones(lower.size) if weights is None else np.asarray(weights),
        None if groups is None else np.asarray(groups),
    )


def from_rows(rows: Iterable[tuple[object, object]]) -> Lives:
    """Lives from hours run and what ended them.

    Parameters
    ----------
    rows : iterable of (hours, ended_by)
        Hours run [h], 0 to 1e7, and one of `failure`, `limit_reached` (both: the end was seen), `preventive`,
        `opportunity`, `relocated`, `modification`, `decommissioned`, `unknown` (censored at that hour), or empty or None
        for what still runs (censored at that hour).

    Returns
    -------
    Lives
        One row each, in their order.

    Raises
    ------
    ValueError
        If hours are no number, negative, above 1e7, or 0 at an observed end, or the end is none of these; the message
        names the row and field, as in `lives[2].hours`.

    Source
    ------
    Own rule: worn to the limit is an end that was seen; what was taken off for another reason is censored (Meeker and
    Escobar, Statistical Methods for Reliability Data, 1998, ch. 2).

    Examples
    --------
    >>> lives = from_rows([(1200, "failure"), (900, "limit_reached"), (3000, "preventive"), (10, None)])
    >>> lives.failures, lives.suspensions
    (2.0, 2.0)
    """
    hours, observed = [], []
    for place, (ran, ended_by) in enumerate(rows):
        seen = _end_was_seen(f"lives[{place}].ended_by", ended_by)
        hours.append(_hours_run(f"lives[{place}].hours", ran, seen=seen))
        observed.append(seen)
    return right_censored(hours, observed=np.array(observed, dtype=bool))


def for_mechanism(rows: Iterable[tuple[object, object, object]], mechanism: str) -> Lives:
    """Lives against one mechanism: an end by another one is censored at that hour.

    Parameters
    ----------
    rows : iterable of (hours, ended_by, mechanism)
        As in `from_rows`; a missing mechanism counts as `unknown`.
    mechanism : str
        The one to look at.

    Returns
    -------
    Lives
        One row each, in their order.

    Raises
    ------
    ValueError
        As `from_rows`.

    Source
    ------
    Competing risks taken as independent: Nelson, Applied Life Data Analysis, 1982, ch. 5.

    Examples
    --------
    >>> rows = [(900, "limit_reached", "wear"), (200, "failure", "overload"), (500, "failure", "")]
    >>> lives = for_mechanism(rows, "wear")
    >>> lives.failures, lives.suspensions
    (1.0, 2.0)
    """
    return split_by_mechanism(rows, mechanisms=(mechanism,))[mechanism]


def split_by_mechanism(
    rows: Iterable[tuple[object, object, object]], *, mechanisms: Iterable[str] | None = None
) -> Mapping[str, Lives]:
    """Lives against each mechanism in turn.

    Parameters
    ----------
    rows : iterable of (hours, ended_by, mechanism)
        As in `from_rows`; a missing mechanism counts as `unknown`.
    mechanisms : iterable of str, optional
        Which ones; all that ended a life, in alphabetical order, where not given.

    Returns
    -------
    mapping of str to Lives
        The same lives under each name, other ends censored at their hour.

    Raises
    ------
    ValueError
        As `from_rows`.

    Source
    ------
    Competing risks taken as independent: Nelson, Applied Life Data Analysis, 1982, ch. 5.

    Examples
    --------
    >>> found = split_by_mechanism([(900, "limit_reached", "wear"), (200, "failure", "overload"), (50, "", "")])
    >>> [(name, lives.failures, lives.suspensions) for name, lives in found.items()]
    [('overload', 1.0, 2.0), ('wear', 1.0, 2.0)]
    """
    listed = list(rows)
    everything = from_rows([(hours, ended_by) for hours, ended_by, _ in listed])
    ended_by_it = np.array([str(name or UNKNOWN_MECHANISM) for _, _, name in listed], dtype=object)
    seen = everything.is_observed
    names = sorted(set(ended_by_it[seen])) if mechanisms is None else list(mechanisms)
    return {
        name: right_censored(everything.lower_hours, observed=seen & (ended_by_it == name)) for name in names
    }


def _end_was_seen(name: str, ended_by: object) -> bool:
    if ended_by is None or isinstance(ended_by, str):
        if ended_by in OBSERVED_ENDS:
            return True
        if ended_by in CENSORED_ENDS or ended_by in STILL_RUNNING:
            return False
    known = ", ".join(sorted(OBSERVED_ENDS | CENSORED_ENDS))
    raise ValueError(f"`{name}` must be one of {known}, or empty for what still runs, not {ended_by!r}.")


def _hours_run(name: str, value: object, *, seen: bool) -> float:
    hours = number(name, value, least=0.0, most=LONGEST_HOURS)
    if seen and hours <= 0:
        _refuse_no_hours(name)
    return hours


def _refuse_no_hours(name: str) -> None:
    raise ValueError(
        f"`{name}` must be more than 0 where the end was seen: a part that never ran has no life."
    )
