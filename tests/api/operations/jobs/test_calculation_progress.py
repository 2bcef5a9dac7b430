"""Every calculation that a page waits for says how far it is, in shares that only grow."""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from itertools import count, pairwise
from typing import Any

import pytest
from rest_framework.test import APIClient

from api.answers.assortment import calculate_orphans, calculate_variety
from api.answers.backtest import calculate_backtest
from api.answers.exposure import calculate_exposure
from api.answers.figures import calculate_figures
from api.answers.frontier import calculate_frontier
from api.answers.stock_changes import calculate_stock_changes
from api.models import BackgroundJob
from api.operations.jobs import calculations
from api.operations.jobs.calculations import in_per_cent
from api.screens.planning.setting_effect import calculate_effect
from drives.models import Cover, Position
from inventory.models import Item
from tests import factories as make
from tests.jobs import run_queued_jobs
from tests.stored_demand import calculate_demands

TERMS = {"currency": "EUR", "holding_rate_per_year": 0.3}
FIGURES = {"since": "2026-01-01", "until": "2026-02-01", "days_ahead": "90", "storeroom": "", "zone": "UTC"}
PERIODS = {"months_to_learn": 24, "exposure_months": 3, "step_months": 3}
CALCULATIONS: list[tuple[Callable[..., Any], dict[str, Any]]] = [
    (calculate_frontier, {"budget": "500"}),
    (calculate_exposure, {}),
    (calculate_variety, {"worst_grade": "drop_in"}),
    (calculate_orphans, {}),
    (calculate_figures, FIGURES),
    (calculate_backtest, PERIODS),
    (calculate_stock_changes, {"since": "2026-01-01", "begins": "2026-01-01T00:00:00+00:00"}),
    (calculate_effect, {"kind": "terms", "key": "", "values": json.dumps(TERMS)}),
]


@pytest.fixture
def plant(db: None) -> None:
    """Two parts that serve at two positions, on the shelf, with four years of requests."""
    make.StockingTermsFactory(hours_to_expedite=48.0)
    for _ in range(2):
        drive = make.DriveFactory(criticality="vital", downtime_cost_per_hour=Decimal(900))
        unit = make.InstallationFactory(
            position=make.PositionFactory(drive=drive), item=make.ItemFactory(lead_time_days=21)
        )
        make.stock(unit.item, make.StoreroomFactory(), 1)
        for year in (2022, 2023, 2024, 2025):
            make.RequestFactory(item=unit.item, position=unit.position, at=datetime(year, 3, 5, tzinfo=UTC))
    for position in Position.objects.all():
        for item in Item.objects.all():
            Cover.objects.create(position=position, item=item, grade="drop_in")
    calculate_demands()


@pytest.mark.parametrize(
    ("calculate", "parameters"), CALCULATIONS, ids=lambda one: getattr(one, "__name__", "")
)
def test_each_says_how_far_it_is(
    plant: None, calculate: Callable[..., Any], parameters: dict[str, Any]
) -> None:
    shares: list[float] = []
    found = calculate(**parameters, progress=lambda done, total: shares.append(done / total))
    assert len(shares) > 1, found
    assert all(one <= other for one, other in pairwise(shares)), shares
    assert 0 < shares[0] < 1
    assert shares[-1] <= 1


def test_progress_is_written_a_second_apart_at_most_and_only_where_it_has_grown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[tuple[int, int]] = []
    seconds = iter([0.0, 0.9, 1.0, 1.5, 2.5, 3.5])
    monkeypatch.setattr(calculations, "monotonic", lambda: next(seconds))
    tell = in_per_cent(lambda done, total: told.append((done, total)))
    for done in (1, 2, 3, 3, 0):
        tell(done, 8)
    assert told == [(25, 100), (37, 100)]


@pytest.mark.django_db
def test_a_job_stores_what_its_calculation_tells(
    as_viewer: APIClient, plant: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    seconds = count()
    monkeypatch.setattr(calculations, "monotonic", lambda: next(seconds))
    seen: list[dict[str, Any]] = []
    address = as_viewer.get("/api/v1/exposure/")["Location"]

    def look(*args: Any, **kwargs: Any) -> Any:
        seen.append(as_viewer.get(address).json())
        return load(*args, **kwargs)

    load = calculations.to_stored
    monkeypatch.setattr(calculations, "to_stored", look)
    run_queued_jobs()
    assert [(one["state"], one["done"], one["total"]) for one in seen] == [("running", 100, 100)]
    assert BackgroundJob.objects.get().done == 100
