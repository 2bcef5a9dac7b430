"""Jobs that did not get what they requested, with substitutes and without; and the share that got it, by class of drive."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone

from drives.demand.demand_events import load_demand_events
from drives.demand.importance import CRITICALITY_RANK
from drives.demand.request_matching import DemandEvent
from drives.figures.figure import Figure, FigureRow, name_of
from drives.models import Position, RequestResult
from inventory.facts import Fact, fact
from inventory.models import Item, Storeroom
from inventory.models.access_scope import in_plants

PLANT = "drive__equipment__area__plant"
UNMET = frozenset({RequestResult.PARTLY, RequestResult.NOT_FILLED, RequestResult.NOT_STOCKED})


@dataclass(frozen=True)
class Job:
    """All lines of one job in one storeroom: it is short once, however many of them are."""

    lines: tuple[DemandEvent, ...]

    @property
    def is_unmet(self) -> bool:
        return any(line.result in UNMET for line in self.lines)

    @property
    def is_met_by_substitute(self) -> bool:
        return not self.is_unmet and any(
            line.result == RequestResult.FILLED_BY_SUBSTITUTE for line in self.lines
        )

    @property
    def short(self) -> DemandEvent:
        """The line to show: the first that is short, else the first that a substitute filled, else the first."""
        wanted = UNMET if self.is_unmet else {RequestResult.FILLED_BY_SUBSTITUTE}
        return next((line for line in self.lines if line.result in wanted), self.lines[0])


def stockout_figures(
    since: datetime, until: datetime, storerooms: Collection[int] | None = None
) -> tuple[Figure, ...]:
    """`stockouts`, `stockouts_without_substitutes`, and `filled_…` for each class of drive; eight queries.

    A job is planned or not; one whose removal is all that is recorded says nothing of the shelf and is left out.
    """
    jobs = _jobs(since, until, storerooms)
    names = _Names.of(job.short for job in jobs)
    unmet = [job for job in jobs if job.is_unmet]
    short = [job for job in jobs if job.is_unmet or job.is_met_by_substitute]
    return (
        _figure(fact("figure_stockouts"), unmet, jobs, names),
        _figure(fact("figure_stockouts_without_substitutes"), short, jobs, names),
        *_filled_by_class(jobs, names),
    )


def _jobs(since: datetime, until: datetime, storerooms: Collection[int] | None) -> list[Job]:
    lines: dict[tuple[object, ...], list[DemandEvent]] = defaultdict(list)
    for event in load_demand_events(until):
        is_seen = storerooms is None or event.storeroom_id in storerooms
        if event.at >= since and event.source != "removal" and is_seen:
            lines[event.storeroom_id, event.job].append(event)
    return [Job(tuple(found)) for found in lines.values()]


@dataclass(frozen=True)
class _Names:
    positions: Mapping[int, Position]
    items: Mapping[int, str]
    storerooms: Mapping[int, str]

    @classmethod
    def of(cls, events: Iterable[DemandEvent]) -> "_Names":
        wanted = list(events)
        ids = {event.position_id for event in wanted} - {None}
        positions = in_plants(Position.objects.select_related("drive"), PLANT).in_bulk(ids)
        items = dict(Item.objects.values_list("pk", "stock_number"))
        return cls(positions, items, dict(Storeroom.objects.values_list("pk", "code")))

    def criticality(self, job: Job) -> str:
        """Of the worst drive that the job is for."""
        positions = (self.positions.get(line.position_id or 0) for line in job.lines)
        found = [position.drive.criticality for position in positions if position]
        return min(found, key=CRITICALITY_RANK.__getitem__, default="")

    def row(self, job: Job) -> FigureRow:
        line = job.short
        position = self.positions.get(line.position_id or 0)
        return FigureRow(
            reasons=(fact("job_was_answered", result=line.result, lines=len(job.lines)),),
            item=self.items.get(line.item_id or 0, ""),
            storeroom=self.storerooms.get(line.storeroom_id, ""),
            position=position.tag if position else "",
            drive=position.drive.tag if position else "",
            work_order=line.work_order,
            pieces=line.quantity,
            on=timezone.localdate(line.at),
        )


def _figure(meaning: Fact, counted: list[Job], jobs: list[Job], names: _Names) -> Figure:
    rows = sorted((names.row(job) for job in counted), key=lambda row: (row.on, row.item), reverse=True)
    return Figure(name=name_of(meaning), meaning=meaning, count=len(counted), of=len(jobs), rows=tuple(rows))


def _filled_by_class(jobs: list[Job], names: _Names) -> Iterable[Figure]:
    """The rows are the jobs that were not filled."""
    of_class: dict[str, list[Job]] = defaultdict(list)
    for job in jobs:
        of_class[names.criticality(job)].append(job)
    for criticality in sorted(of_class, key=CRITICALITY_RANK.__getitem__):
        asked = of_class[criticality]
        meaning = fact("figure_filled", criticality=criticality or None)
        unmet = _figure(meaning, [job for job in asked if job.is_unmet], asked, names)
        name = f"filled_{criticality or 'without_class'}"
        yield replace(unmet, name=name, count=len(asked) - unmet.count)
