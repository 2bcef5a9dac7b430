import pytest
from rest_framework.test import APIClient

from tests.attacks.sites import HIDDEN, WEIR, Site, caller_at, site


@pytest.fixture
def weir(db: None) -> Site:
    return site(WEIR)


@pytest.fixture
def zeta(db: None) -> Site:
    """The site that the callers do not reach."""
    return site(HIDDEN)


@pytest.fixture
def at_weir(weir: Site) -> APIClient:
    """A manager of the one site."""
    return caller_at(weir)


@pytest.fixture
def clerk_at_weir(weir: Site) -> APIClient:
    return caller_at(weir, "storeroom")
