"""A drive that is written on its administration page is filled in, and refused in words."""

import pytest

from drives.models import Drive
from tests.admin_pages import address
from tests.factories import AdminFactory, EquipmentFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines(client):
    client.force_login(AdminFactory())
    return client


def drive_form(**changes: str) -> dict[str, str]:
    form = {
        "tag": "KILN-FAN-D1",
        "name": "Fan drive",
        "equipment": str(EquipmentFactory().pk),
        "chain_designation": "60",
        "environment": ["hot"],
        "currency": "EUR",
        "positions-TOTAL_FORMS": "0",
        "positions-INITIAL_FORMS": "0",
    }
    return form | changes


def test_a_drive_is_filled_from_its_designation(ines):
    response = ines.post(address(Drive, "add"), drive_form())
    assert response.status_code == 302, response.context["errors"]
    assert Drive.objects.get().chain_designation == "12A"


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"environment": ["windy"]}, "windy is not one of the available choices"),
        ({"chain_designation": "99Z"}, "99Z"),
        ({"hours_per_year": "9000"}, "hours_per_year must be from 0 to 8784."),
        (
            {"in_use_from": "2024-01-02", "in_use_until": "2024-01-01"},
            "in_use_from must not be after in_use_until.",
        ),
        ({"currency": "eur"}, "three capitals"),
    ],
)
def test_a_wrong_drive_is_refused_in_words(ines, wrong, sentence):
    response = ines.post(address(Drive, "add"), drive_form(**wrong))
    assert sentence in response.content.decode()
    assert not Drive.objects.exists()
