"""Open jobs whose parts are not there."""

from collections.abc import Collection
from datetime import date

from drives.figures.figure import Figure, FigureRow
from drives.models import WorkOrder
from drives.substitutes.job_watch import jobs_with_parts, short_parts
from inventory.facts import fact


def jobs_not_ready(storerooms: Collection[int] | None = None) -> Figure:
    """Out of the open jobs that need parts, the earliest date first; ten queries for every 200 items that are needed."""
    jobs = [
        job
        for job in jobs_with_parts()
        if storerooms is None or (job.plant is not None and job.plant.storeroom_id in storerooms)
    ]
    short = short_parts() if jobs else {}
    rows = [_row(job, short[job.pk]) for job in jobs if job.pk in short]
    rows.sort(key=lambda row: (row.on is None, row.on or date.min, row.work_order))
    meaning = fact("figure_jobs_not_ready")
    return Figure(name="jobs_not_ready", meaning=meaning, count=len(rows), of=len(jobs), rows=tuple(rows))


def _row(job: WorkOrder, items: Collection[str]) -> FigureRow:
    return FigureRow(
        reasons=(fact("job_lacks_parts", items=tuple(sorted(set(items)))),),
        position=job.position.tag if job.position else "",
        drive=job.position.drive.tag if job.position else "",
        work_order=job.external_id,
        on=job.needed_by,
    )
