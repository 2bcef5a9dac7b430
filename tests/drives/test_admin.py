from datetime import timedelta

import pytest
from django.apps import apps
from django.contrib import admin

from drives.models import (
    Approval,
    CodeWord,
    Cover,
    CoverState,
    Drive,
    InboundMessage,
    Inspection,
    Installation,
    ItemPart,
    MeterReading,
    NeededPart,
    PlantEstimate,
    PoolEstimate,
    Position,
    RecordedVerdict,
    Request,
    StoredDemand,
    StoredNeed,
    WorkOrder,
)
from drives.service_record import history
from tests.admin_pages import MOST_QUERIES, address, models_of, queries_of
from tests.drives.past_units import record_past
from tests.factories import (
    MORNING,
    AdminFactory,
    AreaFactory,
    DriveFactory,
    DrivenFactory,
    EquipmentFactory,
    ItemFactory,
    PlantFactory,
    PositionFactory,
    RecordStartFactory,
    RequestFactory,
    StoreroomFactory,
)

pytestmark = pytest.mark.django_db
READ_ONLY = [
    *(Installation, Inspection, Request, Cover, CoverState, StoredDemand, StoredNeed, ItemPart),
    *(PlantEstimate, PoolEstimate),
    *(WorkOrder, NeededPart, InboundMessage, CodeWord, MeterReading, Approval, RecordedVerdict),
]
WRITABLE = [model for model in models_of("drives") if model not in READ_ONLY]
DAY = timedelta(days=1)


@pytest.fixture
def ines(client):
    client.force_login(AdminFactory())
    return client


def build_drives(number: int, plant: str = "WEIR") -> None:
    """Each drive with two positions, a unit that came off, one that sits there, an inspection and an asking."""
    area = AreaFactory(plant=PlantFactory(code=plant), code="GERM")
    for n in range(number):
        equipment = EquipmentFactory(tag=f"{plant}-TURNER-{n}", area=area)
        drive = DriveFactory(equipment=equipment)
        driver, _ = PositionFactory(drive=drive), DrivenFactory(drive=drive)
        item = ItemFactory()
        record_past(driver, item=item, installed_at=MORNING, removed_at=MORNING + DAY, ended_by="failure")
        fitted = history.install(driver, item=item, installed_at=MORNING + DAY)
        told_of(driver, f"{plant}-{n}")
        Approval.objects.create(installation=fitted, approved_by="Ines", until_on=MORNING.date())
        RecordedVerdict.objects.create(
            installation=fitted, position=driver, item=item, grade="drop_in", quote="0"
        )
        history.record_inspection(driver, at=MORNING + DAY, hooked_teeth=False)
        RequestFactory(item=item, position=driver, issued_item=item)
        Cover.objects.create(position=driver, item=item, grade="drop_in")
        CoverState.objects.create(position=driver, inputs_hash="0" * 64)
        StoredDemand.objects.create(position=driver, as_of=MORNING)
        estimates = {"until": MORNING, "families": [], "starts": {}}
        PlantEstimate.objects.update_or_create(pk=1, defaults=estimates)
        room = StoreroomFactory(code=f"{plant}-{n}")
        StoredNeed.objects.create(item=item, storeroom=room, as_of=MORNING, need={})
        ItemPart.objects.create(item=item, part=item.pk)
        PoolEstimate.objects.create(part=n, storeroom=room, family=0, jobs=1, exposure_years=1)
        RecordStartFactory(storeroom=room)


def told_of(position: Position, number: str) -> None:
    told = {"source": "orders", "external_id": number}
    needed = [{"item": "SPR-1", "quantity": 1}]
    WorkOrder.objects.create(position=position, source_updated_at=MORNING, parts_needed=needed, **told)
    InboundMessage.objects.create(
        kind="work_order", version_at=MORNING, body={}, body_hash="0" * 64, outcome="applied", **told
    )
    MeterReading.objects.create(position=position, at=MORNING, hours=10, source_updated_at=MORNING, **told)
    CodeWord.objects.create(source="orders", field="mechanism", code=number)


def test_every_record_has_its_page():
    assert set(apps.get_app_config("drives").get_models()) <= set(admin.site._registry)


@pytest.mark.parametrize("model", models_of("drives"))
def test_lists_cost_the_same_whatever_their_length(ines, model):
    build_drives(1)
    before = queries_of(ines, address(model, "changelist"))
    build_drives(5, "HILL")
    assert queries_of(ines, address(model, "changelist")) == before <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("drives"))
def test_one_record_can_be_looked_at(ines, model):
    build_drives(2)
    assert queries_of(ines, address(model, "change", model.objects.first().pk)) <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("drives"))
def test_every_list_can_be_searched(ines, model):
    build_drives(1)
    assert queries_of(ines, address(model, "changelist") + "?q=STEEP") <= MOST_QUERIES


@pytest.mark.parametrize("model", WRITABLE)
def test_a_record_can_be_added(ines, model):
    assert queries_of(ines, address(model, "add")) <= MOST_QUERIES


@pytest.mark.parametrize("model", READ_ONLY)
def test_what_the_history_writes_cannot_be_written_here(ines, model):
    build_drives(1)
    row = model.objects.first()
    answers = [
        ines.post(address(model, "add"), {}),
        ines.post(address(model, "change", row.pk), {}),
        ines.post(address(model, "delete", row.pk), {"post": "yes"}),
    ]
    assert [answer.status_code for answer in answers] == [403, 403, 403]


def drive_form(**changes: str) -> dict[str, str]:
    form = {
        "tag": "KILN-FAN-D1",
        "name": "Fan drive",
        "equipment": str(EquipmentFactory().pk),
        "chain_designation": "60",
        "environment": '["hot"]',
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
        ({"environment": '["windy"]'}, "Not known: windy. Known are washdown"),
        ({"environment": '{"hot": 1}'}, "Give a list of words"),
        ({"environment": '[["hot"]]'}, "Not known: "),
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


def test_a_position_with_history_cannot_be_deleted(ines):
    build_drives(1)
    position = Installation.objects.first().position
    ines.post(address(Position, "delete", position.pk), {"post": "yes"})
    assert Position.objects.filter(pk=position.pk).exists()
