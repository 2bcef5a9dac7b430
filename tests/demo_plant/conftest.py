"""The demo plant, loaded once for all tests of this folder: it takes some ten seconds."""

from collections.abc import Iterator

import pytest
from django.core.management import call_command
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from api.answers.exposure import calculate_exposure
from api.answers.exposure_lines import PlantExposure
from api.answers.frontier import Frontier, calculate_frontier
from drives.demand.needs import needs_of
from drives.demand.snapshot import load_demand_snapshot
from inventory.planning.policy_inputs import Need
from tests.shared_rows import shared_rows


@pytest.fixture(scope="package")
def demo_plant(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    with shared_rows(django_db_blocker, lambda: call_command("demo", "--no-serve")):
        yield


@pytest.fixture(scope="package")
def needs(demo_plant: None) -> list[Need]:
    return needs_of(load_demand_snapshot(timezone.now()))


@pytest.fixture(scope="package")
def frontier(demo_plant: None) -> Frontier:
    return calculate_frontier("5000")


@pytest.fixture(scope="package")
def exposure(demo_plant: None) -> PlantExposure:
    return calculate_exposure()
