"""Chain for jobs, cut from the pieces that there are: a job takes one piece, or a few with a joint between two of them.

What is said to be served can be cut: the cuts are part of the answer. Where every job takes one piece and may use any of
them, no job is left out that could be served beside those before it, unless the search is longer than `MOST_STEPS`. Where
joints are allowed, a job may be left out that a cleverer choice of pieces would serve; it is never the other way round.
"""

from collections.abc import Iterable, Sequence
from dataclasses import KW_ONLY, dataclass

from inventory.number_checks import whole

MOST_STEPS = 5_000
"""Steps of one search, about a hundredth of a second: a shelf has a few dozen pieces, a plant a few jobs for one chain."""


@dataclass(frozen=True, slots=True)
class ChainJob:
    """One chain of so many links. `ranks` says of each piece how willingly it is used: the lowest first, None never."""

    links: int
    _: KW_ONLY
    joints: int = 0
    ranks: tuple[float | None, ...] | None = None

    def rank(self, piece: int) -> float | None:
        return 0.0 if self.ranks is None else self.ranks[piece]


@dataclass(frozen=True, slots=True)
class ChainCut:
    """Links cut from the piece of that index; `piece_links` is its length before all cuts."""

    piece: int
    links: int
    piece_links: int


@dataclass(frozen=True, slots=True)
class CutPlan:
    """For each job its cuts, None where it cannot be served; what is left of each piece."""

    cuts: tuple[tuple[ChainCut, ...] | None, ...]
    left: tuple[int, ...]


def cut_jobs(pieces: Sequence[int], jobs: Sequence[ChainJob]) -> CutPlan:
    """The first jobs have the first right: a job is served where the pieces can also serve all that were served before.

    >>> plan = cut_jobs([90, 90, 78], [ChainJob(164), ChainJob(82), ChainJob(164, joints=1)])
    >>> [cuts and tuple(cut.links for cut in cuts) for cuts in plan.cuts], plan.left
    ([None, (82,), (90, 74)], (8, 0, 4))
    """
    bench = _Bench([whole("pieces", links) for links in pieces])
    for number, job in enumerate(jobs):
        whole("links", job.links, least=1)
        bench.serve(number, job)
    cuts = tuple(
        tuple(ChainCut(piece, links, pieces[piece]) for piece, links in bench.cuts[number])
        if number in bench.cuts
        else None
        for number in range(len(jobs))
    )
    return CutPlan(cuts, tuple(bench.left))


def jobs_served(pieces: Iterable[int], links: int, *, joints: int = 0) -> int:
    """How many jobs of one length the pieces can serve.

    >>> jobs_served([120, 120, 77], 60), jobs_served([90, 90], 164), jobs_served([90, 90], 164, joints=1)
    (5, 0, 1)
    """
    length = whole("links", links, least=1)
    known = [whole("pieces", piece) for piece in pieces]
    served = sum(piece // length for piece in known)
    if joints:
        rests = [piece % length for piece in known if piece % length]
        served += sum(cuts is not None for cuts in cut_jobs(rests, _joined(rests, length, joints)).cuts)
    return served


def pieces_left(pieces: Sequence[int], reserved: int) -> tuple[int, ...]:
    """The pieces without what is reserved, which is cut from the shortest that is long enough, else from the longest ones."""
    held = min(reserved, sum(pieces))
    return cut_jobs(pieces, [ChainJob(held, joints=len(pieces))]).left if held else tuple(pieces)


def remnants(pieces: Iterable[int], shortest_job: int) -> tuple[int, ...]:
    """Pieces that no job can be cut from alone, longest first."""
    return tuple(sorted((piece for piece in pieces if 0 < piece < shortest_job), reverse=True))


def _joined(rests: Sequence[int], links: int, joints: int) -> list[ChainJob]:
    return [ChainJob(links, joints=joints)] * (sum(rests) // links)


class _Bench:
    """The pieces as they are cut; `cuts` of a job are (piece, links)."""

    def __init__(self, pieces: list[int]) -> None:
        self.left = list(pieces)
        self.cuts: dict[int, tuple[tuple[int, int], ...]] = {}
        self.single: dict[int, ChainJob] = {}

    def serve(self, number: int, job: ChainJob) -> None:
        usable = [piece for piece in range(len(self.left)) if job.rank(piece) is not None]
        if sum(self.left[piece] for piece in usable) < job.links:
            return
        if self._cut_one(number, job, usable) or self._rearrange(number, job):
            self.single[number] = job
        elif job.joints:
            self._join(number, job, usable)

    def _cut_one(self, number: int, job: ChainJob, usable: list[int]) -> bool:
        """From the shortest of the nearest pieces that are long enough."""
        fitting = [piece for piece in usable if self.left[piece] >= job.links]
        if fitting:
            best = min(fitting, key=lambda piece: (job.rank(piece), self.left[piece], piece))
            self._cut(number, [(best, job.links)])
        return bool(fitting)

    def _cut(self, number: int, cuts: list[tuple[int, int]]) -> None:
        for piece, links in cuts:
            self.left[piece] -= links
        self.cuts[number] = tuple(cuts)

    def _rearrange(self, number: int, job: ChainJob) -> bool:
        """Cut the jobs that take one piece each anew, so that this one is served too."""
        free = list(self.left)
        for other in self.single:
            free[self.cuts[other][0][0]] += self.single[other].links
        wanted = self.single | {number: job}
        found = _pack(free, wanted)
        if found is None:
            return False
        self.left = free
        for other, piece in found.items():
            self._cut(other, [(piece, wanted[other].links)])
        return True

    def _join(self, number: int, job: ChainJob, usable: list[int]) -> None:
        """The longest pieces whole, then the shortest that covers the rest, as the ledger does when pieces are joined."""
        missing, cuts = job.links, list[tuple[int, int]]()
        pieces = sorted((piece for piece in usable if self.left[piece]), key=lambda piece: -self.left[piece])
        while missing and pieces and len(cuts) <= job.joints:
            covers = [piece for piece in pieces if self.left[piece] >= missing]
            chosen = covers[-1] if covers else pieces[0]
            pieces.remove(chosen)
            cuts.append((chosen, min(missing, self.left[chosen])))
            missing -= cuts[-1][1]
        if not missing:
            self._cut(number, cuts)


def _pack(pieces: Sequence[int], jobs: dict[int, ChainJob]) -> dict[int, int] | None:
    """A piece for each job, or None: the longest jobs are placed first, and a dead end is not entered twice."""
    order = sorted(jobs, key=lambda number: -jobs[number].links)
    left, chosen = list(pieces), dict[int, int]()
    dead: set[tuple[int, ...]] = set()
    steps = MOST_STEPS

    def placed(at: int) -> bool:
        nonlocal steps
        if at == len(order):
            return True
        steps -= 1
        if steps < 0 or (at, *left) in dead:
            return False
        job = jobs[order[at]]
        fitting = [n for n, links in enumerate(left) if links >= job.links and job.rank(n) is not None]
        for piece in sorted(fitting, key=lambda n: (job.rank(n), left[n])):
            left[piece] -= job.links
            chosen[order[at]] = piece
            if placed(at + 1):
                return True
            left[piece] += job.links
        dead.add((at, *left))
        return False

    return chosen if placed(0) else None
