"""Chain counted in jobs: a job takes one length, and a piece that is shorter serves none."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import ceil
from typing import Any

JOB_SHARE = 0.9
"""Share of the jobs on record that need no more than the length in which chain is counted. With the longest of all, one job
in years would make every ordinary piece worthless; with the mean, pieces would count for jobs that they are too short for.
Start value, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainJobs:
    """The lengths that jobs took of one chain; `links_per_job` is the one in which stock and demand are counted."""

    links_per_job: int
    shortest_links: int
    longest_links: int
    mean_links: float
    jobs: int

    def as_json(self) -> dict[str, Any]:
        return asdict(self)


def chain_jobs(lengths: Sequence[int]) -> ChainJobs | None:
    """None where no job is on record.

    >>> found = chain_jobs([82, 90, 96, 112])
    >>> found.links_per_job, found.shortest_links, found.mean_links
    (112, 82, 95.0)
    """
    if not lengths:
        return None
    ordered = sorted(lengths)
    return ChainJobs(
        links_per_job=ordered[ceil(JOB_SHARE * len(ordered)) - 1],
        shortest_links=ordered[0],
        longest_links=ordered[-1],
        mean_links=sum(ordered) / len(ordered),
        jobs=len(ordered),
    )
