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
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.api.webhooks.receiver import Receiver, answers, receiving
from tests.programs import Program
from tests.proof.cluster import Cluster, binaries
from tests.proof.conftest import prepare
from tests.proof.service import NoAnswer, Service, program, surroundings, write_past_service
from tests.proof.soak_acts import CREATED, DONE, Act, Acts

AWAY_SECONDS, PAUSE_SECONDS, PATIENCE_SECONDS = 0.5, 0.05, 600.0
AGAIN_SECONDS = 0.2
"""A service that starts is not to be held up by those who wait for it."""
PASSING = (429, 503)
TOLD = ("id", "state", "counted", "booked", "variance", "movement")
"""Members of an answer that are the same when it is asked for again, and that the books have to bear out."""
COMPARED = ("name", "path", "is_done", "told", "entry", "effects", "lines")
RECEIVER_FAILS_ONCE_IN = 40
PAST = "2020-01-01 00:00:00"
TIME_PASSES = (
    f"UPDATE inventory_lease SET until = '{PAST}'",
    f"UPDATE api_delivery SET claimed_until = NULL, next_attempt_at = '{PAST}' WHERE state = 'waiting'",
)
"""What leases and claims of those that were killed wait for, in a moment: a test has no minutes for it."""
NEXT_ATTEMPTS = (
    f"UPDATE api_delivery SET next_attempt_at = '{PAST}' WHERE state = 'waiting' AND claimed_until IS NULL",
)
"""Nor for a receiver that failed."""


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

    def run(self) -> None:
        """To its end, with what everybody was told: `told`."""
        with receiving() as receiver, ExitStack() as ending:
            receiver.script = Failing()
            with self.timed("starting"):
                self.serve(receiver.port, ending)
            with self.timed("storm"):
                self.storm()
            with self.timed("everything again"):
                self.send_all_again()
            self.fed = list(self.feed())
            with self.timed("receiver"):
                self.wait_for_receiver(receiver, len(self.fed))
            self.received = [one.id for one in receiver.got]

    @contextmanager
    def timed(self, stage: str) -> Iterator[None]:
        began = time.monotonic()
        yield
        self.seconds[stage] = self.seconds.get(stage, 0.0) + time.monotonic() - began

    def serve(self, hook_port: int, ending: ExitStack) -> None:
        """The service starts while its plant is written; the scheduler finds it written."""
        self.more = {
            "REQUESTS_PER_MINUTE": "10000000",
            "WEBHOOK_ALLOWED_HOSTS": "127.0.0.1",
            "WEBHOOK_ALLOW_HTTP": "true",
            "WEBHOOK_PORTS": str(hook_port),
            "WEBHOOK_TIMEOUT_SECONDS": "2",
        }
        self.service = Service(self.url, "", **self.more)
        ending.callback(self.service.kill)
        words = ("-m", "tests.proof.soak_books", "prepare", str(self.clients), str(hook_port))
        with ThreadPoolExecutor(1) as pool:
            preparing = pool.submit(program, self.url, *words)
            self.start_service()
            done = preparing.result()
        assert done.returncode == 0, done.stderr
        self.service.token = done.stdout.strip().splitlines()[-1]
        self.start_scheduler()
        ending.callback(lambda: self.scheduler.kill())

    def start_service(self) -> None:
        self.service.start(workers=2, threads=max(8, self.clients // 4))

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
            act.status, act.told = self.answered(act)
            sent.append(act)
            self.finished += 1
        return sent

    def answered(self, act: Act) -> tuple[int, dict[str, Any]]:
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
            time.sleep(random.uniform(AGAIN_SECONDS / 2, 2 * AGAIN_SECONDS))
        self.strange.append(f"{act.key or act.path}: no answer")
        return 0, {}

    def noted(self, act: Act, status: int, body: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        if status not in act.statuses:
            self.strange.append(f"{act.name} {act.key or act.path}: {status} {body.get('detail', '')}")
        is_told = act.key and status in (DONE, CREATED)
        told = {name: body[name] for name in TOLD if name in body} if is_told else {}
        if is_told and (wrong := act.said.items() - told.items()):
            self.strange.append(f"{act.name} {act.key}: {told} instead of {dict(wrong)}")
        return status, told

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
            with self.timed(f"{name} away"):
                ways[name]()
            self.killed[name] += 1

    def kill_service(self) -> None:
        self.service.kill()
        self.start_service()

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
                if act.key and told != (act.status, act.told):
                    self.strange.append(f"{act.key}: {act.status} {act.told} became {told}")

        with ThreadPoolExecutor(self.clients) as pool:
            list(pool.map(again, self.done))

    def feed(self) -> Iterator[str]:
        path = "/api/v1/events/?limit=500"
        while path:
            page = self.service.get(path).json
            yield from (event["id"] for event in page["results"])
            path = (page["next"] or "").replace(f"http://127.0.0.1:{self.service.port}", "")

    def wait_for_receiver(self, receiver: Receiver, events: int) -> None:
        pause, unchanged, known = 0.5, 0.0, -1
        passing = TIME_PASSES
        while len({one.id for one in receiver.got}) < events and unchanged < PATIENCE_SECONDS:
            if self.is_hurried:
                write_past_service(self.url, *passing)
                passing = NEXT_ATTEMPTS
            time.sleep(pause)
            unchanged = 0.0 if len(receiver.got) != known else unchanged + pause
            known = len(receiver.got)

    def told(self) -> dict[str, Any]:
        acts = [
            {
                "client": number,
                "quantity": act.body.get("quantity"),
                "seen_at": act.body.get("seen_at"),
                **{name: getattr(act, name) for name in COMPARED},
            }
            for number, mine in enumerate(self.done)
            for act in mine
        ]
        return {"clients": self.clients, "acts": acts, "fed": self.fed, "received": self.received}

    def differences(self, *tellings: dict[str, Any]) -> list[list[str]]:
        """Of the books from each of them; none where all is well."""
        with self.timed("comparing"), tempfile.NamedTemporaryFile("w", suffix=".json") as file:
            json.dump(tellings, file)
            file.flush()
            done = program(self.url, "-m", "tests.proof.soak_books", "check", file.name, timeout=3_600)
        assert done.returncode == 0, done.stderr
        found: list[list[str]] = json.loads(done.stdout.strip().splitlines()[-1])
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
        soak.run()
        found = [*soak.strange[:20], *soak.differences(soak.told())[0]]
    finally:
        if cluster is not None:
            cluster.stop()
        shutil.rmtree(folder, ignore_errors=True)
    kinds = Counter(act.name for mine in soak.done for act in mine)
    print(", ".join(f"{count} x {name}" for name, count in sorted(kinds.items())))
    print(", ".join(f"{name} killed {count} times" for name, count in sorted(soak.killed.items())))
    print(f"{soak.asked_again} requests were sent again for want of an answer, and all once more at the end")
    print(f"{len(soak.received)} webhooks were received of {len(soak.fed)} events")
    print(", ".join(f"{stage} {seconds:.0f} s" for stage, seconds in soak.seconds.items()))
    print(f"{options.acts} acts by {options.clients} clients in {time.monotonic() - began:.0f} s")
    print("\n".join([*found, f"{len(found)} differences"]))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
