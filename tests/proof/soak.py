"""A soak: clients book, count, order and report while server, scheduler and database are killed; then the books are compared.

    python -m tests.proof.soak [--acts 1000000] [--clients 64] [--kills 200] [--seed 1]

It makes a PostgreSQL of its own (without its programs a SQLite file, which cannot be killed), serves it as in production, with a
scheduler beside and a receiver of webhooks that fails now and then. Each client sends one act after the other, again after
every answer that did not come, with the same key. At the end everything is sent once more. It proves that nothing is lost, booked twice or
answered otherwise: the ledger, fitted units against their issues, orders and jobs, the feed of events, and the webhooks
received. The status is 1 where there is a difference.
"""

import argparse
import json
import random
import shutil
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.api.webhooks.receiver import Receiver, answers, receiving
from tests.programs import Program
from tests.proof.cluster import Cluster, binaries
from tests.proof.conftest import prepare
from tests.proof.service import NoAnswer, Service, program, surroundings
from tests.proof.soak_acts import Act, Acts

AWAY_SECONDS, PAUSE_SECONDS, PATIENCE_SECONDS = 0.5, 0.05, 600.0
PASSING = (429, 503)
RECEIVER_FAILS_ONCE_IN = 40
LET_TIME_PASS = """
from datetime import timedelta
from django.utils import timezone
from api.models import Delivery
from inventory.models import Lease
past = timezone.now() - timedelta(hours=1)
Lease.objects.update(until=past)
Delivery.objects.filter(state="waiting").update(claimed_until=None, next_attempt_at=past)
"""
"""What leases and claims of those that were killed wait for, in a moment: a test has no minutes for it."""


@dataclass
class Soak:
    url: str
    acts: int
    clients: int
    kills: int
    cluster: Cluster | None = None
    seed: int = 1
    is_hurried: bool = False
    done: list[list[Act]] = field(default_factory=list)
    strange: list[str] = field(default_factory=list)
    killed: Counter[str] = field(default_factory=Counter)
    asked_again: int = 0
    finished: int = 0
    seconds: dict[str, float] = field(default_factory=dict)

    def run(self) -> list[str]:
        """Every difference; none where all is well."""
        with receiving() as receiver, ExitStack() as ending:
            receiver.script = Failing()
            self.service = self.serve(receiver)
            ending.callback(self.service.kill)
            self.start_scheduler()
            ending.callback(lambda: self.scheduler.kill())
            self.service.start(workers=2, threads=max(8, self.clients // 4))
            self.timed("storm", self.storm)
            self.timed("everything again", self.send_all_again)
            self.fed = list(self.feed())
            self.timed("receiver", lambda: self.wait_for_receiver(receiver, len(self.fed)))
            self.received = [one.id for one in receiver.got]
            return [*self.strange[:20], *self.compare(self.fed, self.received)]

    def timed(self, stage: str, work: Callable[[], None]) -> None:
        began = time.monotonic()
        work()
        self.seconds[stage] = time.monotonic() - began

    def serve(self, receiver: Receiver) -> Service:
        done = program(
            self.url, "-m", "tests.proof.soak_books", "prepare", str(self.clients), str(receiver.port)
        )
        assert done.returncode == 0, done.stderr
        self.more = {
            "REQUESTS_PER_MINUTE": "10000000",
            "WEBHOOK_ALLOWED_HOSTS": "127.0.0.1",
            "WEBHOOK_ALLOW_HTTP": "true",
            "WEBHOOK_PORTS": str(receiver.port),
            "WEBHOOK_TIMEOUT_SECONDS": "2",
        }
        return Service(self.url, done.stdout.strip().splitlines()[-1], **self.more)

    def start_scheduler(self) -> None:
        words = ("manage.py", "run_scheduler")
        self.scheduler = Program(words, surroundings(self.url, **self.more), is_heard=False)

    def storm(self) -> None:
        shares = [self.acts // self.clients + (one < self.acts % self.clients) for one in range(self.clients)]
        killer = threading.Thread(target=self.kill_at_random)
        killer.start()
        with ThreadPoolExecutor(self.clients) as pool:
            self.done = list(pool.map(self.client, range(self.clients), shares))
        killer.join()

    def client(self, number: int, share: int) -> list[Act]:
        sent = []
        for act in Acts(self.seed, number).make(share):
            act.status, act.id = self.answered(act)
            sent.append(act)
            self.finished += 1
        return sent

    def answered(self, act: Act) -> tuple[int, int | None]:
        """Until there is an answer: the key makes it harmless to ask again."""
        until = time.monotonic() + PATIENCE_SECONDS
        headers = {"Idempotency_Key": act.key} if act.key else {}
        while time.monotonic() < until:
            try:
                answer = self.service.ask(act.method, act.path, act.body, **headers)
            except NoAnswer:
                answer = None
            if answer is not None and answer.status not in PASSING:
                body = answer.json
                if body.get("code") != "request_still_running":
                    return self.noted(act, answer.status, body)
            self.asked_again += 1
            time.sleep(random.uniform(PAUSE_SECONDS / 2, 2 * PAUSE_SECONDS))
        self.strange.append(f"{act.key or act.path}: no answer")
        return 0, None

    def noted(self, act: Act, status: int, body: dict[str, Any]) -> tuple[int, int | None]:
        expected = (200, 201) if act.method == "PUT" else (201, 409) if act.name == "hot" else (201,)
        if status not in expected:
            self.strange.append(f"{act.name} {act.key or act.path}: {status} {body.get('detail', '')}")
        return status, body.get("id") if act.key and status == 201 else None

    def kill_at_random(self) -> None:
        """At random moments of the work, each victim as often as the others."""
        chance = random.Random(self.seed)
        ways: dict[str, Callable[[], None]] = {
            "service": self.kill_service,
            "scheduler": self.kill_scheduler,
        }
        if self.cluster is not None:
            ways["database"] = self.kill_database
        moments = sorted(chance.uniform(0.05, 0.9) * self.acts for _ in range(self.kills))
        for turn, moment in enumerate(moments):
            while self.finished < moment:
                time.sleep(PAUSE_SECONDS)
            name = list(ways)[turn % len(ways)]
            ways[name]()
            self.killed[name] += 1

    def kill_service(self) -> None:
        self.service.kill()
        self.service.start(workers=2, threads=max(8, self.clients // 4))

    def kill_scheduler(self) -> None:
        self.scheduler.kill()
        self.scheduler.wait()
        self.start_scheduler()

    def kill_database(self) -> None:
        assert self.cluster is not None
        self.cluster.stop("immediate")
        time.sleep(AWAY_SECONDS)
        self.cluster.start()

    def send_all_again(self) -> None:
        """The same requests with the same keys, by all clients at once: the same answers."""

        def again(acts: list[Act]) -> None:
            for act in acts:
                told = self.answered(act)
                if act.key and told != (act.status, act.id):
                    self.strange.append(f"{act.key}: {act.status} {act.id} became {told}")

        with ThreadPoolExecutor(self.clients) as pool:
            list(pool.map(again, self.done))

    def feed(self) -> Iterator[str]:
        path = "/api/v1/events/?limit=500"
        while path:
            page = self.service.get(path).json
            yield from (event["id"] for event in page["results"])
            path = (page["next"] or "").replace(f"http://127.0.0.1:{self.service.port}", "")

    def wait_for_receiver(self, receiver: Receiver, events: int) -> None:
        if self.is_hurried:
            done = program(self.url, "manage.py", "shell", "-c", LET_TIME_PASS)
            assert done.returncode == 0, done.stderr
        pause, unchanged, known = 0.5, 0.0, -1
        while len({one.id for one in receiver.got}) < events and unchanged < PATIENCE_SECONDS:
            time.sleep(pause)
            unchanged = 0.0 if len(receiver.got) != known else unchanged + pause
            known = len(receiver.got)

    def compare(self, fed: list[str], received: list[str]) -> list[str]:
        acts = [
            {
                "client": number,
                "is_done": act.status in (200, 201),
                "quantity": act.body.get("quantity"),
                **{name: getattr(act, name) for name in ("name", "path", "id", "effects", "lines")},
            }
            for number, mine in enumerate(self.done)
            for act in mine
        ]
        told = {"clients": self.clients, "acts": acts, "fed": fed, "received": received}
        with tempfile.NamedTemporaryFile("w", suffix=".json") as file:
            json.dump(told, file)
            file.flush()
            done = program(self.url, "-m", "tests.proof.soak_books", "check", file.name, timeout=3_600)
        assert done.returncode == 0, done.stderr
        *found, last = done.stdout.strip().splitlines()
        assert last == f"{len(found)} differences" or len(found) == 30, done.stdout
        return found


class Failing(list[Any]):
    """The script of a receiver that fails once in so many deliveries, for ever."""

    def __init__(self) -> None:
        super().__init__()
        self.count = 0

    def __bool__(self) -> bool:
        return True

    def pop(self, *_: Any) -> Any:
        self.count += 1
        return answers(500 if self.count % RECEIVER_FAILS_ONCE_IN == 0 else 200)


def on_database(folder: Path, cluster: Cluster | None) -> str:
    if cluster is None:
        url = f"sqlite:///{folder}/soak.sqlite3"
    else:
        cluster.start()
        cluster.run("createdb", "-h", str(cluster.folder), "-U", "spares", "soak")
        url = cluster.url("soak")
    prepare(url)
    return url


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--acts", type=int, default=1_000_000)
    parser.add_argument("--clients", type=int, default=64)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--hurry", action="store_true", help="let leases of the killed end at once")
    options = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="soak-", dir="/tmp"))
    programs = binaries()
    cluster = Cluster(folder, programs) if programs else None
    began = time.monotonic()
    try:
        url = on_database(folder, cluster)
        soak = Soak(url, options.acts, options.clients, options.kills, cluster, options.seed, options.hurry)
        found = soak.run()
    finally:
        if cluster is not None:
            cluster.stop()
        shutil.rmtree(folder, ignore_errors=True)
    kinds = Counter(act.name for mine in soak.done for act in mine)
    print(", ".join(f"{count} x {name}" for name, count in sorted(kinds.items())))
    print(", ".join(f"{name} killed {count} times" for name, count in sorted(soak.killed.items())))
    print(f"{soak.asked_again} requests were sent again for want of an answer, and all once more at the end")
    print(", ".join(f"{stage} {seconds:.0f} s" for stage, seconds in soak.seconds.items()))
    print(f"{options.acts} acts by {options.clients} clients in {time.monotonic() - began:.0f} s")
    print("\n".join([*found, f"{len(found)} differences"]))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
