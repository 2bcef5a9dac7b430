"""Whether a job may take stock that is reserved for another one."""

from drives.models import WorkOrder, WorkOrderKind


def may_override_reservation(work_order: str) -> bool:
    """Only known work of another kind than corrective may not; an unknown work order may be corrective."""
    known = WorkOrder.objects.filter(external_id=work_order).exclude(kind__in=["", WorkOrderKind.CORRECTIVE])
    return not work_order or not known.exists()
