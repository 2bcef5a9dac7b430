"""Run the import of an uploaded file and store the result of each row."""

import logging
from typing import Any

from django.utils import timezone

from api.exchange.reading import Sheet
from api.exchange.results import ImportResult
from api.exchange.run import run_import
from api.models import ImportRun, ImportState
from inventory.stores.ledger.movement import Who

logger = logging.getLogger(__name__)


def carry_out(run: ImportRun, sheet: Sheet, *, by: Who) -> None:
    """Import the rows and store the results; all rows are written or none."""
    run.state = ImportState.RUNNING
    run.save(update_fields=["state"])
    try:
        result = run_import(run.kind, sheet, dry_run=run.dry_run, partial=run.partial, by=by)
    except Exception:
        logger.exception("The import %s broke off.", run.pk)
        result = ImportResult(
            run.kind, problems=("The service failed, nothing was written: send the file again.",)
        )
    keep(run, result)


def keep(run: ImportRun, result: ImportResult) -> None:
    values: dict[str, Any] = {
        "state": ImportState.DONE if is_done(result) else ImportState.FAILED,
        "written": result.written,
        "counts": result.counts,
        "problems": list(result.problems),
        "notes": list(result.notes),
        "row_results": result.as_json(),
        "finished_at": timezone.now(),
    }
    for name, value in values.items():
        setattr(run, name, value)
    run.save(update_fields=list(values))


def is_done(result: ImportResult) -> bool:
    return not result.problems and (result.written or result.dry_run)
