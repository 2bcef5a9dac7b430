from collections.abc import Iterator

import pytest
from pytest_django import DjangoDbBlocker
from rest_framework.test import APIClient

from tests.attacks.sites import HIDDEN, WEIR, Site, caller_at, site
from tests.shared_rows import shared_rows


@pytest.fixture(scope="module")
def sites(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[dict[str, Site]]:
    with shared_rows(django_db_blocker, lambda: {code: site(code) for code in (WEIR, HIDDEN)}) as found:
        yield found


@pytest.fixture
def weir(sites: dict[str, Site], db: None) -> Site:
    return sites[WEIR]


@pytest.fixture
def zeta(sites: dict[str, Site], db: None) -> Site:
    """The site that the callers do not reach."""
    return sites[HIDDEN]


@pytest.fixture
def at_weir(weir: Site) -> APIClient:
    """A manager of the one site."""
    return caller_at(weir)


@pytest.fixture
def clerk_at_weir(weir: Site) -> APIClient:
    return caller_at(weir, "storeroom")
