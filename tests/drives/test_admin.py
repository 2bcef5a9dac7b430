from datetime import timedelta

import pytest
from django.apps import apps
from django.contrib import admin

from drives.models import (
    Approval,
    CodeWord,
    Cover,
    CoverState,
    InboundMessage,
    Inspection,
    Installation,
    ItemPart,
    MeterReading,
    MissingAttribute,
    NeededPart,
    PlantEstimate,
    PoolEstimate,
    Position,
    RecordedVerdict,
    Request,
    StoredDemand,
    StoredNeed,
    SubstitutionRule,
    WorkOrder,
)
from drives.service_record import history
from tests.admin_pages import MOST_QUERIES, address, costs_of_lists, models_of, queries_of
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
    SubstitutionRuleFactory,
)
from tests.shared_rows import shared_rows

pytestmark = pytest.mark.django_db
READ_ONLY = [
    *(Installation, Inspection, Request, Cover, CoverState, StoredDemand, StoredNeed, ItemPart),
    *(PlantEstimate, PoolEstimate, MissingAttribute),
    *(
        WorkOrder,
        NeededPart,
        InboundMessage,
        CodeWord,
        MeterReading,
        Approval,
        RecordedVerdict,
        SubstitutionRule,
    ),
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
        SubstitutionRuleFactory(item=item, position=driver, plant=area.plant)
        Cover.objects.create(position=driver, item=item, grade="drop_in")
        MissingAttribute.objects.create(position=driver, item=item, attribute="bore_mm", is_alone=True)
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


@pytest.fixture(scope="module")
def drives(django_db_setup, django_db_blocker):
    with shared_rows(django_db_blocker, lambda: build_drives(1)):
        yield


@pytest.fixture(scope="module")
def costs(drives, django_db_blocker):
    with shared_rows(
        django_db_blocker, lambda: costs_of_lists("drives", lambda: build_drives(5, "HILL"))
    ) as found:
        return found


@pytest.mark.sqlite
@pytest.mark.parametrize("model", models_of("drives"))
def test_lists_cost_the_same_whatever_their_length(costs, model):
    before, longer = costs[model]
    assert longer == before <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("drives"))
def test_one_record_can_be_looked_at(drives, ines, model):
    assert queries_of(ines, address(model, "change", model.objects.first().pk)) <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("drives"))
def test_every_list_can_be_searched(drives, ines, model):
    assert queries_of(ines, address(model, "changelist") + "?q=STEEP") <= MOST_QUERIES


@pytest.mark.parametrize("model", WRITABLE)
def test_a_record_can_be_added(ines, model):
    assert queries_of(ines, address(model, "add")) <= MOST_QUERIES


@pytest.mark.parametrize("model", READ_ONLY)
def test_what_the_history_writes_cannot_be_written_here(drives, ines, model):
    row = model.objects.first()
    answers = [
        ines.post(address(model, "add"), {}),
        ines.post(address(model, "change", row.pk), {}),
        ines.post(address(model, "delete", row.pk), {"post": "yes"}),
    ]
    assert [answer.status_code for answer in answers] == [403, 403, 403]


def test_a_position_with_history_cannot_be_deleted(drives, ines):
    position = Installation.objects.first().position
    ines.post(address(Position, "delete", position.pk), {"post": "yes"})
    assert Position.objects.filter(pk=position.pk).exists()
