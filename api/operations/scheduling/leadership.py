"""Which scheduler works: the others stand by until its lease runs out."""

from inventory.models import Lease
from inventory.plumbing.leases import database_now

LEADER = "scheduler"


def is_scheduler_running() -> bool:
    """Whether one gave a sign of life within the time of its lease."""
    return Lease.objects.filter(name=LEADER, until__gt=database_now()).exclude(holder="").exists()
