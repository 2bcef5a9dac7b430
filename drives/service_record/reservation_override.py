"""Whether a job may take what is held back for another one."""

from drives.models import WorkOrder, WorkOrderKind


def may_go_first(work_order: str) -> bool:
    """A job that is known and is no corrective work waits its turn; of one that nobody told of nothing is known."""
    known = WorkOrder.objects.filter(external_id=work_order).exclude(kind__in=["", WorkOrderKind.CORRECTIVE])
    return not work_order or not known.exists()
