"""The demo plant is loaded once, however often the command runs."""

import pytest
from django.contrib.auth import get_user_model
from django.core.management import call_command

from api.models import AccessToken
from drives.models import CodeWord, Drive, InboundMessage, Installation, Request, WorkOrder
from inventory.models import Item, ServiceTarget, StockEntry, StockPolicy, SupplyOrder

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]
COUNTED = (
    *(Drive, Installation, Item, StockEntry, Request, SupplyOrder, StockPolicy, ServiceTarget),
    *(WorkOrder, InboundMessage, CodeWord),
    *(AccessToken, get_user_model()),
)


def test_it_is_loaded_once(capsys: pytest.CaptureFixture[str]) -> None:
    first = [model.objects.count() for model in COUNTED]
    call_command("demo", "--no-serve")

    told = capsys.readouterr().out
    assert all(first)
    assert [model.objects.count() for model in COUNTED] == first
    assert "is loaded already: nothing was changed" in told
    assert "their secrets stay the same" in told
    assert set(InboundMessage.objects.values_list("outcome", flat=True)) == {"applied", "stale", "waiting"}
