"""Save the answers of the demo plant before and after a change of the code, and compare the two files.

In the old and in the new checkout, each with a database file of its own (DATABASE_URL=sqlite:////path/old.sqlite3):

    python -m tests.proof.saved_answers load
    python -m tests.proof.saved_answers save old.jsonl

`load` fills an empty database with the demo plant, all recommendations and a day of count tasks. `save` sends a few
hundred requests, also some that write, and rolls everything back: it can be repeated on the same database. Both set the
clock to 2026-11-28T09:00:00Z, so the day of the run does not matter. Then, in any checkout:

    python -m tests.proof.saved_answers compare old.jsonl new.jsonl

Texts for people and new members are not compared; see `answer_differences`. `--renamed sentence=explanation` names a
member that has a new name, `--word asked=requested` a value that has one, `--ignored exposure` a member that is gone; each
can be repeated. `compare` prints one line for each member that differs, and exits with 1.
The product is reached through Django's settings, the addresses in `answer_requests` and `answer_writes`, the commands
in `LOADING`, `run_jobs`, and the models of access tokens and of background jobs alone, so that the same script runs on code whose modules were moved.
"""

import argparse
import json
import logging
import os
import sys
from collections import Counter
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path

import django
from django.apps import apps
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.utils import timezone

from tests.proof.answer_differences import Differences, Exceptions, compare, read_answers
from tests.proof.answer_recorder import Recorder
from tests.proof.answer_requests import save_reads
from tests.proof.answer_writes import save_writes

MOMENT = datetime(2026, 11, 28, 9, tzinfo=UTC)
LOADING: tuple[tuple[str, dict[str, object]], ...] = (
    ("demo", {"no_serve": True}),
    ("recommend_stock", {"full": True}),
    ("plan_counts", {}),
)
ROLES = ("manager", "storeroom", "integration")
LIMITS = ("REQUESTS_PER_MINUTE", "SEARCHES_PER_MINUTE")


def start_django() -> None:
    """With the clock set before any module of the product can take a copy of `timezone.now`."""
    timezone.now = lambda: MOMENT
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
    os.environ.update(dict.fromkeys(LIMITS, "10000000"))
    django.setup()
    # Many requests are to be refused, and each refusal would be a line.
    logging.disable(logging.CRITICAL)


def load() -> None:
    start_django()
    for command, options in LOADING:
        call_command(command, **options, stdout=StringIO(), stderr=StringIO())


def save(path: Path) -> str:
    start_django()
    with transaction.atomic():
        recorder = Recorder(clients(), visitor(), at=MOMENT)
        save_reads(recorder)
        save_writes(recorder)
        transaction.set_rollback(True)
    with path.open("w", encoding="utf-8") as file:
        for answer in recorder.answers.values():
            file.write(json.dumps(answer, sort_keys=True, ensure_ascii=False) + "\n")
    statuses = sorted(Counter(answer["status"] for answer in recorder.answers.values()).items())
    return f"{len(recorder.answers)} answers saved; statuses: " + ", ".join(
        f"{one} {n}" for one, n in statuses
    )


def clients() -> dict[str, Client]:
    """A client with a token of its own for each role."""
    tokens = apps.get_model("api", "AccessToken").objects
    found = {}
    for role in ROLES:
        _, secret = tokens.issue(f"saved answers, {role}", role=role, last_used_at=MOMENT)
        headers = {"authorization": f"Bearer {secret}"}
        found[role] = Client(SERVER_NAME="localhost", headers=headers, raise_request_exception=False)
    return found


def visitor() -> Client:
    """A manager who may see the pages of the administration too."""
    people = get_user_model().objects
    user = people.create_superuser("saved-answers")
    user.groups.set(people.get(username="demo-manager").groups.all())
    client = Client(SERVER_NAME="localhost", raise_request_exception=False)
    client.force_login(user)
    return client


def exceptions_of(options: argparse.Namespace) -> Exceptions:
    return Exceptions(
        renamed=dict(map(old_and_new, options.renamed)),
        words=frozenset(map(old_and_new, options.word)),
        ignored=frozenset(options.ignored),
    )


def old_and_new(text: str) -> tuple[str, str]:
    old, _, new = text.partition("=")
    return old, new


def report(found: Differences) -> None:
    for place in found.by_place():
        print(place)
    print(f"{found.compared} answers, {found.count} differences")


def options_of(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="tests.proof.saved_answers")
    acts = parser.add_subparsers(dest="act", required=True)
    acts.add_parser("load", help="fill an empty database")
    acts.add_parser("save", help="write the answers to a file").add_argument("file", type=Path)
    comparing = acts.add_parser("compare", help="compare two files of answers")
    comparing.add_argument("old", type=Path)
    comparing.add_argument("new", type=Path)
    for name, form, text in (
        ("--renamed", "[PARENT.]OLD=NEW", "a member has a new name, everywhere or inside one parent"),
        ("--word", "OLD=NEW", "a value of the vocabulary has a new name"),
        ("--ignored", "[PARENT.]NAME", "a member that is not compared and may be missing"),
    ):
        comparing.add_argument(name, action="append", default=[], metavar=form, help=text)
    return parser.parse_args(arguments)


def main(arguments: list[str]) -> int:
    options = options_of(arguments)
    if options.act == "load":
        load()
    elif options.act == "save":
        print(save(options.file))
    else:
        found = compare(read_answers(options.old), read_answers(options.new), exceptions_of(options))
        report(found)
        return int(found.count > 0)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
