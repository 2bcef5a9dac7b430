"""Findings that turn on a figure of the tables which no source shows: worked out again at both ends of its plausible error.

A finding that stays stands. One that changes is for review and names the figure.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache, reduce
from itertools import product
from typing import Any, TypeVar

from inventory.facts import Fact
from inventory.interchange.findings import Finding, worst_of
from inventory.interchange.key import keyseat_for
from inventory.interchange.requirement import Engagement, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import Aspect, Outcome, ShaftKind
from inventory.standards.confidence import Estimate, SourceKind, places_that_matter

Judged = tuple[Requirement, Sprocket]
Findings = tuple[Finding, ...]
Move = Callable[[Judged], Judged]
Owner = TypeVar("Owner", Requirement, Sprocket)


@dataclass(frozen=True)
class TableDoubt:
    """A figure that no source shows, and what is judged with the figure at one end and the other."""

    named: Fact
    moves: tuple[Move, ...]


def settle(find: Callable[[Judged], Findings], given: Judged, doubts: tuple[TableDoubt, ...]) -> Findings:
    """The findings; for review where an outcome, or the work that it orders, is another one at an end of a figure."""
    if not doubts:
        return find(given)
    moves = ((_as_it_is, *doubt.moves) for doubt in doubts)
    at = {corner: find(reduce(_moved, corner, given)) for corner in product(*moves)}
    found = next(iter(at.values()))
    for aspect in Aspect:
        turning = places_that_matter({corner: _result(one, aspect) for corner, one in at.items()})
        if turning:
            found = _for_review(found, at.values(), aspect, tuple(doubts[place].named for place in turning))
    return found


def _as_it_is(given: Judged) -> Judged:
    return given


def _moved(given: Judged, move: Move) -> Judged:
    return move(given)


def _result(found: Findings, aspect: Aspect) -> object:
    worst = worst_of(found, aspect)
    if worst is None or worst.outcome is Outcome.OK:
        return Outcome.OK
    if worst.outcome is Outcome.WORK:
        return tuple(step for f in found if f.aspect is aspect for step in f.work)
    return worst.outcome


def _for_review(
    found: Findings, at_ends: Iterable[Findings], aspect: Aspect, named: tuple[Fact, ...]
) -> Findings:
    """The worst finding of the aspect names the figures, and none of them refuses; one that only an end has is added."""
    own = worst_of(found, aspect)
    if own is None:
        added = worst_of((f for one in at_ends for f in one), aspect)
        return found if added is None else (*found, added.for_review(*named))
    refusals = {id(f) for f in found if f.aspect is aspect and f.outcome is Outcome.NO}
    marked = own.for_review(*named)
    return tuple(marked if f is own else f.for_review() if id(f) in refusals else f for f in found)


def table_doubts(required: Requirement, offered: Sprocket) -> tuple[TableDoubt, ...]:
    """Of the chain, of the rim, and of the keyseat; none for nearly every position."""
    named = dict.fromkeys(one for one in (required.chain, offered.chain) if one is not None and one.estimates)
    return (*(doubt for chain in named for doubt in _of_chain(chain)), *_of_keyseat(required.shaft))


@lru_cache(maxsize=256)
def _of_chain(chain: Engagement) -> tuple[TableDoubt, ...]:
    # A remembered plate height is never used: the tallest plate of the pitch stands for it.
    return tuple(_chain_doubt(one) for one in chain.estimates if one.name != "plate_height_mm")


def _chain_doubt(estimate: Estimate) -> TableDoubt:
    """One figure wherever the chain is named: position, candidate and replaced part move together.

    A remembered one is also taken as equal on both sides: it never refuses by itself.
    """

    def to(size_mm: float) -> Move:
        return lambda given: _with_chains(
            given,
            lambda chain: (
                _resized(chain, estimate.name, size_mm) if chain.designation == estimate.of else chain
            ),
        )

    moves = tuple(to(end) for end in estimate.ends)
    if estimate.kind is SourceKind.MEMORY:
        moves = (*moves, lambda given: _as_if_equal(given, estimate.name))
    return TableDoubt(estimate.named, moves)


def _as_if_equal(given: Judged, name: str) -> Judged:
    size_mm = getattr(given[0].chain, name, None)
    return given if size_mm is None else _with_chains(given, lambda chain: _resized(chain, name, size_mm))


def _resized(chain: Engagement, name: str, size_mm: float) -> Engagement:
    moved: dict[str, Any] = {name: size_mm}
    return replace(chain, **moved)


def _with_chains(given: Judged, move: Callable[[Engagement], Engagement]) -> Judged:
    required, offered = given
    replaced = required.interface and _with_chain(required.interface, move)
    return replace(_with_chain(required, move), interface=replaced), _with_chain(offered, move)


def _with_chain(owner: Owner, move: Callable[[Engagement], Engagement]) -> Owner:
    return owner if owner.chain is None else replace(owner, chain=move(owner.chain))


def _of_keyseat(shaft: Shaft | None) -> tuple[TableDoubt, ...]:
    if shaft is None or shaft.kind is not ShaftKind.KEYED:
        return ()
    return tuple(_keyseat_doubt(estimate) for estimate in keyseat_for(shaft).estimates)


def _keyseat_doubt(estimate: Estimate) -> TableDoubt:
    """The figure is moved by recording it at the shaft, with the others of this keyseat as they are."""

    def to(size_mm: float) -> Move:
        return lambda given: (
            replace(given[0], shaft=_recorded(given[0].shaft, estimate.name, size_mm)),
            given[1],
        )

    return TableDoubt(estimate.named, tuple(to(end) for end in estimate.ends))


def _recorded(shaft: Shaft | None, name: str, size_mm: float) -> Shaft | None:
    if shaft is None:
        return None
    keyseat = keyseat_for(shaft)
    sizes: dict[str, Any] = {**keyseat.values, "keyway_depth_mm": keyseat.hub_depth_mm, name: size_mm}
    return replace(shaft, **sizes)
