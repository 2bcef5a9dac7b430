"""A scheduler in a thread of the web process, so that one process alone does all the work (SCHEDULER_INSIDE)."""

import atexit
import threading

from django.conf import settings

from api.edge.stopping import Stop
from api.operations.scheduling.scheduler import Scheduler

SECONDS_TO_END = 5.0


def start_scheduler_inside() -> threading.Thread | None:
    """Leased like any other scheduler: of several processes one works and the others stand by."""
    if not settings.SCHEDULER_INSIDE:
        return None
    stop = Stop()
    thread = threading.Thread(target=Scheduler(stop=stop).run, name="scheduler", daemon=True)
    thread.start()
    atexit.register(end, stop, thread)
    return thread


def end(stop: Stop, thread: threading.Thread) -> None:
    """Give the lease back, so that the next process need not wait for it. A long job is left and started again there."""
    stop.ask()
    thread.join(SECONDS_TO_END)
