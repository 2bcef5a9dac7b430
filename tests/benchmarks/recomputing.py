"""The recompute beside the least that it could cost: reading its rows, one pass over arrays, and writing as many results.

Seconds are those of this process on the processor; on PostgreSQL those of the server come on top, for ours and the anchor alike.
After each of several failures every stored value is compared with those of a full run, to the last digit. The graph of what serves where is worked out for one
catalogue and for eight of the same density side by side: an item may cost no more among eight times as many.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from random import Random
from statistics import median
from time import process_time
from typing import Any

import numpy as np
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from drives.demand import cover_refresh
from drives.demand.cover_refresh import CoverInputs, Judges
from drives.demand.follow_record import OVERLAP, follow_record
from drives.demand.recompute import recompute
from drives.demand.sprocket_index import SprocketIndex
from drives.models import (
    Cover,
    Installation,
    ItemPart,
    Position,
    RecordStart,
    Request,
    StoredDemand,
    StoredNeed,
)
from drives.reliability.rate_pooling import pool_rates
from drives.service_record import history
from drives.substitutes.position_requirement import (
    PositionRequirement,
    position_requirement,
    positions_with_requirements,
)
from drives.substitutes.rules_here import RuleBook
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.interchange.requirement import Engagement, Requirement, Sprocket
from inventory.models import Item, PartKind, Recommendation, Specification, StockEntry, StockingRun
from tests.benchmarks.measures import Measure

AT = datetime(2026, 11, 29, tzinfo=UTC)
MOST_POSITIONS, MOST_SPROCKETS = 150, 5_000
COPIES = 8
FAILURES, FOLLOWED, SEED = 3, 15, 20_261
RESULTS = (Cover, ItemPart, RecordStart, StoredDemand, StoredNeed, Recommendation)
WRITTEN = ("id", "run_id", "created_at", "updated_at", "since_last")
READ = (Item, Specification, Position, Installation, Request, StockEntry)


def measures() -> Iterator[Measure]:
    StockingRun.objects.filter(state="running").update(state="failed")
    first, again = seconds(lambda: run(is_full=True)), seconds(run)
    known = stored()
    run(is_full=True)
    if stored() != known:
        raise SystemExit("A full run left other values than the one before: nothing was measured.")
    least = seconds(least_work)
    yield Measure(
        "recompute, first", "s", first, 2.0, "ratio", anchor=least, anchor_name="read, arrays, write"
    )
    yield Measure("recompute, again", "s", again, 0.1, "ratio", anchor=first, anchor_name="recompute, first")
    yield from after_failures()
    yield from followed()
    yield from graph()


def run(**more: Any) -> StockingRun:
    return recompute(as_of=AT, by="benchmark", **more)


def seconds(call: Callable[[], object]) -> float:
    began = process_time()
    call()
    return process_time() - began


def least_work() -> None:
    """Every row that is read and every result that is written, with one pooling of rates over arrays between them."""
    for record in READ:
        for _ in record.objects.order_by().values_list().iterator(2_000):
            pass
    place = np.array(Request.objects.exclude(item=None).order_by().values_list("item", flat=True))
    pool_rates(np.bincount(place), exposure=np.full(place.max() + 1, 10.0))
    results = list(Recommendation.objects.current())
    for row in results:
        row.pk, row.state = None, "superseded"
    with transaction.atomic():
        Recommendation.objects.bulk_create(results, batch_size=500)
        transaction.set_rollback(True)


def after_failures() -> Iterator[Measure]:
    """Of units drawn anew, each beside those that failed before; a full run has to find every stored value as it is."""
    running = Installation.objects.filter(removed_at=None, item__isnull=False).order_by("pk")
    chosen = Random(SEED).sample(list(running.values_list("pk", flat=True)), FAILURES)
    took, moved = [], []
    try:
        for pk in chosen:
            before = hashes()
            running.filter(pk=pk).update(
                removed_at=AT - timedelta(days=1), ended_by="failure", mechanism="wear"
            )
            took.append(seconds(run))
            followed, after = stored(), hashes()
            moved.append(sum(before.get(key) != found for key, found in after.items()))
            run(is_full=True)
            if stored() != followed:
                raise SystemExit(f"A run after unit {pk} failed left other values than a full one.")
    finally:
        Installation.objects.filter(pk__in=chosen).update(removed_at=None, ended_by="", mechanism="")
        run(is_full=True)
    yield Measure("recompute, after one failure", "s", median(took), 1.5, "ours")
    yield Measure("recommendations that one failure moves", "rows", max(moved), 1.5, "growth")


def followed() -> Iterator[Measure]:
    """Units that fail and are replaced by the same item between two runs; a full run has to find every stored value as it is."""
    running = Installation.objects.filter(removed_at=None, item__isnull=False).order_by("pk")
    chosen = Random(SEED).sample(list(running.values_list("pk", flat=True)), FOLLOWED)
    took = []
    with transaction.atomic():
        for pk in chosen[1:]:
            fail(Installation.objects.get(pk=pk))
            took.append(seconds(lambda: follow_record(AT)))
        fail(Installation.objects.get(pk=chosen[0]))
        with CaptureQueriesContext(connection) as queries:
            follow_record(AT)
        if StockingRun.objects.values_list("is_behind", flat=True).first():
            raise SystemExit("A failure was left to the next run: nothing was measured.")
        known = stored()
        run(is_full=True)
        if stored() != known:
            raise SystemExit("A full run left other values than those that were followed.")
        transaction.set_rollback(True)
    yield Measure("one failure, followed", "ms", median(took) * 1000, 50.0, "ours")
    yield Measure("queries of one failure, followed", "queries", len(queries), 80.0, "ours")


def fail(unit: Installation) -> None:
    """As if the last run had just ended, which is as of a day of the past."""
    StockingRun.objects.update(followed_until=timezone.now() + OVERLAP)
    at = AT - timedelta(days=1)
    history.remove(unit, removed_at=at, ended_by="failure", mechanism="wear", work_order=f"WO-F{unit.pk}")
    columns = {"item": unit.item, "specification": unit.specification, "installed_at": at}
    history.install(unit.position, approval_follows=True, **columns)


def hashes() -> dict[tuple[int, int], str]:
    rows = Recommendation.objects.current().values_list("item", "storeroom", "inputs_hash")
    return {(item, room): found for item, room, found in rows}


def stored() -> int:
    """A sum over every value that a run leaves, but for when and by which run it was written."""
    found = 0
    for record in RESULTS:
        rows = Recommendation.objects.current() if record is Recommendation else record._base_manager.all()
        columns = [one.attname for one in record._meta.concrete_fields if one.attname not in WRITTEN]
        for row in rows.order_by().values_list(*columns).iterator(2_000):
            found += int(sha256(repr((record, row)).encode()).hexdigest(), 16)
    return found


def graph() -> Iterator[Measure]:
    asked = [
        position_requirement(row) for row in positions_with_requirements().order_by("pk")[:MOST_POSITIONS]
    ]
    records = Specification.objects.filter(kind=PartKind.SPROCKET).order_by("pk")[:MOST_SPROCKETS]
    sprockets = [attributes_of(record) for record in records]
    one, edges, tested = worked_out(asked, sprockets, 1)
    eight, _, _ = worked_out(asked, sprockets, COPIES)
    yield Measure(
        f"graph, an item among {COPIES} times as many",
        "µs",
        eight / COPIES / len(sprockets) * 1e6,
        1.3,
        "ratio",
        anchor=one / len(sprockets) * 1e6,
        anchor_name="among its own catalogue",
    )
    yield Measure("graph, pairs judged for each edge", "pairs", tested / max(edges, 1), 20.0, "ours")


def worked_out(
    asked: list[PositionRequirement], sprockets: list[Sprocket], copies: int
) -> tuple[float, int, int]:
    """Seconds, edges and judged pairs of copies that cannot engage with each other."""
    every = {
        copy * len(sprockets) + place: replace(one, chain=other_pitch(one.chain, copy))
        for copy in range(copies)
        for place, one in enumerate(sprockets, 1)
    }
    wanted = [replace(one, required=elsewhere(one.required, copy)) for copy in range(copies) for one in asked]
    practice, judged, edges = current_practice(), [0], 0
    judge = cover_refresh.findings_for_place

    def counting(*args: Any, **more: Any) -> Any:
        judged[0] += 1
        return judge(*args, **more)

    cover_refresh.findings_for_place = counting
    began = process_time()
    try:
        judges = Judges(practice, SprocketIndex(every, practice), every, RuleBook({}), timezone.now())
        for one in wanted:
            inputs = CoverInputs(one.required, one.duty, None, judges, one.position)
            edges += len(inputs.judged().edges) + (not inputs.hash)
    finally:
        cover_refresh.findings_for_place = judge
    return process_time() - began, edges, judged[0]


def other_pitch(chain: Engagement | None, copy: int) -> Engagement | None:
    """Farther off than any tolerance, and near no other chain."""
    return None if chain is None else replace(chain, pitch_mm=chain.pitch_mm + 0.173 * (copy + 1))


def elsewhere(required: Requirement, copy: int) -> Requirement:
    lender = required.interface
    moved = lender and replace(lender, chain=other_pitch(lender.chain, copy))
    return replace(required, chain=other_pitch(required.chain, copy), interface=moved)
