from datetime import timedelta

import pytest
from django.db import connection

from inventory.models import Lease
from inventory.plumbing import leases
from inventory.plumbing.leases import LeaseLost, database_now, lease, take
from tests.races import outcomes

pytestmark = pytest.mark.django_db


def pass_time(seconds: float) -> None:
    """As if it had been taken so much earlier."""
    row = Lease.objects.get()
    row.until -= timedelta(seconds=seconds)
    row.save()


def test_one_holder_at_a_time_releases_it() -> None:
    with lease("nightly", "one", 60) as first:
        assert first is not None
        with lease("nightly", "two", 60) as second, lease("hourly", "two", 60) as other:
            assert (second, other is None) == (None, False)
    with lease("nightly", "two", 60) as later:
        assert later is not None


def test_the_same_name_of_a_holder_is_no_second_key() -> None:
    assert take("nightly", "one", 60)
    assert take("nightly", "one", 60) is None


def test_it_is_given_back_after_a_failure() -> None:
    with pytest.raises(ZeroDivisionError), lease("nightly", "one", 60):
        raise ZeroDivisionError
    assert take("nightly", "two", 60)


def test_a_holder_without_renewal_loses_it() -> None:
    first = take("nightly", "one", 60)
    pass_time(59)
    assert take("nightly", "two", 60) is None
    pass_time(1)
    assert take("nightly", "two", 60)
    assert first
    with pytest.raises(LeaseLost, match="nightly"):
        first.renew()


def test_releasing_a_lost_lease_does_not_affect_the_new_holder() -> None:
    with lease("nightly", "one", 60):
        pass_time(61)
        assert take("nightly", "two", 60)
    assert take("nightly", "three", 60) is None


def test_a_renewal_restarts_the_time() -> None:
    held = take("nightly", "one", 60)
    assert held
    pass_time(59)
    held.renew()
    pass_time(59)
    assert take("nightly", "two", 60) is None


def test_a_clock_set_back_keeps_a_dead_holder_for_one_lease_at_most() -> None:
    take("nightly", "one", 60)
    pass_time(-3600)
    assert take("nightly", "two", 60) is None
    assert Lease.objects.get().until <= database_now() + timedelta(seconds=60)


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_one_of_many_takers_gets_it() -> None:
    def ask() -> None:
        if take("nightly", "one", 60) is None:
            raise LeaseLost

    assert outcomes([ask] * 32) == {"booked": 1, "LeaseLost": 31}


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_long_work_keeps_its_lease_by_renewal() -> None:
    held = take("nightly", "one", 0.6)
    assert held
    with leases.renewed(held) as lost:
        assert not lost.wait(1.5)
        assert take("nightly", "two", 0.6) is None
        Lease.objects.update(holder="another")
        assert lost.wait(5)
    connection.close()
