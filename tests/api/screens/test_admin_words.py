"""Lists of the administration and the filters beside them say words as the pages do."""

import pytest
from django.test import Client
from django.utils import timezone

from api.models import Change
from drives.models import Cover
from tests.factories import AdminFactory, ItemFactory, PositionFactory, SprocketFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def german() -> Client:
    client = Client()
    client.force_login(AdminFactory())
    client.cookies["language"] = "de"
    return client


def test_a_specification_is_named_in_the_language_of_the_reader(german: Client) -> None:
    sprocket = SprocketFactory(chain_designation="12B", teeth=19)
    assert str(sprocket) == "sprocket 12B 19 teeth"
    page = german.get("/admin/inventory/specification/").content.decode()
    assert "Kettenrad 12B 19 Zähne" in page
    assert "19 teeth" not in page


def test_a_list_and_its_filter_say_a_word_as_the_forms_do(german: Client) -> None:
    SprocketFactory(bore_type="finished")
    page = german.get("/admin/inventory/specification/?bore_type__exact=finished").content.decode()
    assert '<td class="field-bore_type">fertig gebohrt</td>' in page
    assert ">fertig gebohrt</a>" in page
    assert ">finished<" not in page
    none = german.get("/admin/inventory/specification/?bore_type__exact=tapered").content.decode()
    assert 'class="field-bore_type"' not in none


def test_a_word_that_is_kept_without_choices_is_said_and_filtered_too(german: Client) -> None:
    Cover.objects.create(position=PositionFactory(), item=ItemFactory(), grade="drop_in")
    page = german.get("/admin/drives/cover/?grade__exact=drop_in").content.decode()
    assert '<td class="field-grade">passt direkt</td>' in page
    assert ">passt direkt</a>" in page
    assert ">drop_in<" not in page
    none = german.get("/admin/drives/cover/?grade__exact=with_work").content.decode()
    assert 'class="field-grade"' not in none


def test_the_change_log_names_the_kind_of_record(german: Client) -> None:
    named = {"action": "update", "before": {}, "after": {}, "by_name": "marta", "at": timezone.now()}
    for record in ("inventory.item", "inventory.gone"):
        Change.objects.create(record=record, key="41-0105", **named)
    page = german.get("/admin/api/change/").content.decode()
    assert '<td class="field-record">Artikel</td>' in page
    assert ">Artikel</a>" in page
    assert ">inventory.item<" not in page
    assert '<td class="field-record">inventory.gone</td>' in page
