"""Exposure of every position from the demand that a run stored: bound by rows, the same for one position in any plant.

A group in which no run was made gets cover and demand here: the fitted item drops in, two of the same chain and teeth serve with
work, and one position in twenty has a unit of known age. The chances, the lines and their sums are the product's own.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from time import process_time
from typing import TypeVar

from django.utils import timezone

from api.answers.exposure_lines import PlantExposure, lines_of, risks_on, store_lines
from api.models import BackgroundJob
from api.operations.jobs.kinds import JobInHand, Parameters
from drives.demand.position_demand import PositionDemand, UnitInService, store_demands
from drives.exposure.item_exposure import item_exposures
from drives.exposure.positions_at_risk import positions_at_risk
from drives.exposure.risk_inputs import load_risk_inputs
from drives.models import Cover, Installation, Position, Request, StoredDemand
from drives.reliability.weibull_uncertainty import LikelyWeibull
from inventory.facts import fact
from inventory.models import Item
from tests.benchmarks.measures import Measure, milliseconds
from tests.benchmarks.synthetic_group import YEARS

Found = TypeVar("Found")
CPU_SECONDS_OF_20_000 = 60.0
POSITIONS_AT_ONCE = 4_000
LAWS = tuple(LikelyWeibull(1 / 16, 1.5 + number / 10, 9_000.0 + 500 * number) for number in range(16))
ONE_IN = 20


class _Job:
    """What the runner hands to the work of a job."""

    def __init__(self, row: BackgroundJob) -> None:
        self.row = row
        self.parameters: Parameters = row.parameters

    def report_progress(self, done: int, total: int) -> None: ...

    def hold_until_commit(self) -> None: ...


def measures() -> Iterator[Measure]:
    _write_cover_and_demand()
    at = timezone.now()
    began = process_time()
    inputs = load_risk_inputs(at)
    read = process_time() - began
    risks, chances = _timed(lambda: positions_at_risk(inputs))
    row = BackgroundJob.objects.create(kind="benchmark", key="benchmark", scope_key="")
    job: JobInHand = _Job(row)
    try:
        sums, stored = _timed(
            lambda: store_lines(job, PlantExposure(tuple(risks), True, fact("demand_not_calculated"), "EUR"))
        )
        assert sums.count() == len(risks)
        taken = read + chances + stored
        yield Measure(
            "exposure of all positions, for 20,000",
            "s CPU",
            ours=taken * 20_000 / len(risks),
            goal=CPU_SECONDS_OF_20_000,
            judged="ours",
            anchor=(read + stored) * 20_000 / len(risks),
            anchor_name="reading and writing them",
        )
        yield from _a_page(row, len(risks))
    finally:
        row.delete()
    yield from _one_position()


def _timed(call: Callable[[], Found]) -> tuple[Found, float]:
    began = process_time()
    found = call()
    return found, process_time() - began


def _a_page(row: BackgroundJob, positions: int) -> Iterator[Measure]:
    """The last page beside the first."""

    def page(after: int) -> float:
        return min(
            milliseconds(lambda: risks_on(lines_of(row.pk).filter(place__gt=after)[:50])) for _ in range(7)
        )

    yield Measure(
        "exposure list, last page beside the first",
        "ms",
        ours=page(positions - 50),
        goal=1.5,
        judged="ratio",
        anchor=page(0),
        anchor_name="first page",
    )


def _one_position() -> Iterator[Measure]:
    item = Item.objects.get(stock_number="QUESTION-1").pk
    position = Position.objects.get(tag="QUESTION-1").pk
    at = timezone.now()
    item_exposures([item], position, at)
    yield Measure(
        "who else could need the item of one position",
        "ms",
        ours=min(milliseconds(lambda: item_exposures([item], position, at)) for _ in range(9)),
        goal=1.5,
        judged="growth",
    )


def _write_cover_and_demand() -> None:
    fitted = dict(Installation.objects.still_fitted().values_list("position_id", "item_id"))
    if not Cover.objects.exists():
        _write_cover(fitted)
    if not StoredDemand.objects.exists():
        _write_demand(fitted)


def _write_cover(fitted: dict[int, int | None]) -> None:
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    kind_of: dict[int, tuple[object, ...]] = {}
    columns = ("chain_designation", "teeth", "strands")
    sprockets = Item.objects.filter(specification__kind="sprocket").order_by("pk")
    for pk, *kind in sprockets.values_list("pk", *(f"specification__{name}" for name in columns)):
        alike[tuple(kind)].append(pk)
        kind_of[pk] = tuple(kind)
    rows = []
    for position, item in sorted(fitted.items()):
        if item is None:
            continue
        rows.append(Cover(position_id=position, item_id=item, grade="drop_in"))
        others = [one for one in alike.get(kind_of.get(item, ()), ()) if one != item]
        chosen = {others[(position * 7 + turn * 13) % len(others)] for turn in range(2)} if others else set()
        rows += [Cover(position_id=position, item_id=one, grade="with_work") for one in sorted(chosen)]
    Cover.objects.bulk_create(rows, batch_size=POSITIONS_AT_ONCE)


def _write_demand(fitted: dict[int, int | None]) -> None:
    requests = Counter(Request.objects.values_list("item_id", flat=True))
    positions = Counter(fitted.values())
    demands = {}
    for position, item in fitted.items():
        age = UnitInService(100.0 * (position % 90), 6000.0, LAWS) if position % ONE_IN == 0 else None
        demands[position] = PositionDemand(
            pieces=float(requests[item]),
            years=float(YEARS * positions[item]),
            prior_shape=0.5,
            prior_years=5.0,
            unit=age,
        )
    store_demands(demands, positions=Position.objects.values_list("pk", flat=True), as_of=timezone.now())
