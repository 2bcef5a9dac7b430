"""Sends the deliveries: one queue for each endpoint, in threads of their own, so that a dead endpoint delays no other."""

import logging
import threading
import time
from collections import Counter

from django.db import Error as DatabaseFault
from django.db import close_old_connections, connection

from api.edge.stopping import Stop
from api.models import Webhook, WebhookState
from api.webhooks.delivering import AT_ONCE_PER_ENDPOINT, due, send_due
from api.webhooks.queueing import queue_events
from inventory.plumbing.events import sequence_events
from inventory.plumbing.leases import database_now

logger = logging.getLogger(__name__)

TICK_SECONDS = 1.0
MOST_THREADS = 64
STOPS_WITHIN_SECONDS = 8.0
"""A receiver that has not answered by then gets the event once more, with the same id."""


class Deliverer:
    """Several may run at once: each delivery is claimed in the database first."""

    def __init__(self) -> None:
        self.attempts = 0
        self.is_stopping = False
        self.lock = threading.Lock()
        self.running: Counter[int] = Counter()
        self.ended = threading.Condition(self.lock)

    def run_once(self) -> int:
        """Until nothing is due and no thread is working; returns how many attempts were made."""
        while self.start_due() or self.is_busy():
            with self.ended:
                self.ended.wait(TICK_SECONDS)
        return self.attempts

    def run(self, stop: Stop) -> None:
        """Until it is stopped; deliveries under way may end first, within seconds."""
        while not stop.is_asked:
            try:
                close_old_connections()
                self.start_due()
            except DatabaseFault:
                logger.exception("The queues of the webhooks could not be read; they are tried again.")
            stop.wait(TICK_SECONDS)
        self.is_stopping = True
        ends = time.monotonic() + STOPS_WITHIN_SECONDS
        while self.is_busy() and time.monotonic() < ends:
            time.sleep(TICK_SECONDS / 10)

    def start_due(self) -> bool:
        """Queue new events and start a thread for each endpoint with deliveries; whether any were due."""
        sequence_events()
        queue_events()
        found = False
        for webhook in Webhook.objects.filter(state=WebhookState.ACTIVE).order_by("pk"):
            number = len(due(webhook, database_now()).values_list("pk")[:AT_ONCE_PER_ENDPOINT])
            found = found or number > 0
            for _ in range(number):
                self.start_thread(webhook.pk)
        return found

    def start_thread(self, key: int) -> None:
        with self.lock:
            if self.running[key] >= AT_ONCE_PER_ENDPOINT or self.running.total() >= MOST_THREADS:
                return
            self.running[key] += 1
        threading.Thread(target=self.work, args=(key,), daemon=True).start()

    def work(self, key: int) -> None:
        made = 0
        try:
            made = send_due(key, lambda: not self.is_stopping)
        except Exception:
            logger.exception("Deliveries to webhook %s failed; they are tried again.", key)
        finally:
            connection.close()
            with self.ended:
                self.attempts += made
                self.running[key] -= 1
                self.ended.notify_all()

    def is_busy(self) -> bool:
        with self.lock:
            return self.running.total() > 0
