from collections.abc import Sequence
from functools import cache
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stocking.chain_pieces import (
    ChainJob,
    CutPlan,
    cut_jobs,
    jobs_served,
    pieces_left,
    remnants,
)

PIECES = st.lists(st.integers(1, 12), min_size=1, max_size=4)
LENGTHS = st.lists(st.integers(1, 12), min_size=1, max_size=4)
SHORT = (78, 60, 66, 68, 54, 60, 54, 78, 54, 68, 60, 52, 78, 68, 54, 60, 68, 54, 68)


def can_cut(pieces: Sequence[int], lengths: Sequence[int]) -> bool:
    """Every way of giving each job a piece."""
    for choice in product(range(len(pieces)), repeat=len(lengths)):
        used = [0] * len(pieces)
        for piece, links in zip(choice, lengths, strict=True):
            used[piece] += links
        if all(taken <= there for taken, there in zip(used, pieces, strict=True)):
            return True
    return not lengths


@cache
def most_joined(pieces: tuple[int, ...], links: int, joints: int) -> int:
    """Every way of making one job after the other from at most `joints` + 1 pieces."""
    best = 0
    for shares in product(*(range(piece + 1) for piece in pieces)):
        if sum(shares) == links and sum(share > 0 for share in shares) <= joints + 1:
            left = tuple(sorted(piece - share for piece, share in zip(pieces, shares, strict=True)))
            best = max(best, 1 + most_joined(left, links, joints))
    return best


def check_cuts(pieces: Sequence[int], jobs: Sequence[ChainJob], plan: CutPlan) -> None:
    left = list(pieces)
    for job, cuts in zip(jobs, plan.cuts, strict=True):
        assert cuts is None or sum(cut.links for cut in cuts) == job.links
        for cut in cuts or ():
            assert cut.links > 0
            left[cut.piece] -= cut.links
        assert cuts is None or len(cuts) <= job.joints + 1
    assert min(left) >= 0
    assert tuple(left) == plan.left


@given(pieces=PIECES, lengths=LENGTHS)
def test_a_job_is_served_exactly_where_those_before_it_can_be_served_too(
    pieces: list[int], lengths: list[int]
) -> None:
    jobs = [ChainJob(links) for links in lengths]
    plan = cut_jobs(pieces, jobs)
    check_cuts(pieces, jobs, plan)
    served: list[int] = []
    for links, cuts in zip(lengths, plan.cuts, strict=True):
        assert (cuts is not None) == can_cut(pieces, [*served, links])
        served += [links] if cuts is not None else []


@given(pieces=PIECES, lengths=LENGTHS, joints=st.integers(0, 2))
def test_with_joints_every_cut_can_be_made(pieces: list[int], lengths: list[int], joints: int) -> None:
    jobs = [ChainJob(links, joints=joints) for links in lengths]
    check_cuts(pieces, jobs, cut_jobs(pieces, jobs))


@given(pieces=st.lists(st.integers(1, 7), min_size=1, max_size=3), links=st.integers(1, 7))
def test_jobs_of_one_length_are_never_overstated(pieces: list[int], links: int) -> None:
    shelf = tuple(sorted(pieces))
    assert jobs_served(pieces, links) == most_joined(shelf, links, 0)
    assert jobs_served(pieces, links) <= jobs_served(pieces, links, joints=1) <= most_joined(shelf, links, 1)


def test_many_short_pieces_serve_no_long_job() -> None:
    assert sum(SHORT) > 1_100
    assert jobs_served(SHORT, 82) == 0
    assert cut_jobs(SHORT, [ChainJob(82)]).cuts == (None,)


def test_two_pieces_of_90_make_no_chain_of_164_unless_a_joint_is_allowed() -> None:
    assert cut_jobs([90, 90], [ChainJob(164)]).cuts == (None,)
    (cuts,) = cut_jobs([90, 90], [ChainJob(164, joints=1)]).cuts
    assert cuts is not None
    assert [(cut.links, cut.piece_links) for cut in cuts] == [(90, 90), (74, 90)]


def test_earlier_jobs_are_cut_elsewhere_so_that_a_later_one_is_served() -> None:
    """Best fit alone cuts the first 50 from the piece of 80 and leaves none for the job of 80."""
    plan = cut_jobs([100, 80], [ChainJob(50), ChainJob(50), ChainJob(80)])
    assert plan.left == (0, 0)
    assert None not in plan.cuts


def test_the_nearest_piece_is_used_although_a_shorter_one_lies_farther_off() -> None:
    (cuts,) = cut_jobs([90, 200], [ChainJob(84, ranks=(40.0, 0.0))]).cuts
    assert cuts is not None
    assert cuts[0].piece == 1
    assert cut_jobs([90], [ChainJob(84, ranks=(None,))]).cuts == (None,)


def test_a_long_search_ends_and_promises_nothing_that_cannot_be_cut() -> None:
    pieces = [997 + 2 * n for n in range(40)]
    jobs = [ChainJob(331 + n % 7) for n in range(130)]
    check_cuts(pieces, jobs, cut_jobs(pieces, jobs))


def test_what_is_reserved_is_cut_from_the_shortest_piece_that_is_long_enough() -> None:
    assert pieces_left([112, 90, 40], 82) == (112, 8, 40)
    assert sum(pieces_left([112, 90], 150)) == 52
    assert pieces_left([112], 0) == (112,)
    assert pieces_left([112], 500) == (0,)


def test_remnants_are_shorter_than_any_job() -> None:
    assert remnants([112, 81, 0, 12, 82], 82) == (81, 12)


@pytest.mark.parametrize(("pieces", "links"), [([-1], 82), ([1.5], 82), ([90], 0), ([90], 0.5)])
def test_bad_lengths_are_named(pieces: list[float], links: float) -> None:
    with pytest.raises(ValueError, match="pieces" if links == 82 else "links"):
        jobs_served(pieces, links)  # type: ignore[arg-type]
