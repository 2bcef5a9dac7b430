"""Two maltings, each with one of everything, and callers who reach one of them."""

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework.test import APIClient

from api.edge.scope import limit_to
from api.models import AccessToken, Change
from drives.models import Area, Equipment, MeterReading, Plant, WorkOrder
from inventory.models import (
    CountTask,
    DuplicateGroup,
    DuplicateMember,
    DuplicateShelf,
    Event,
    FitQuestion,
    Kit,
    Merge,
    MergeLine,
    Storeroom,
)
from inventory.stores import ledger
from tests import factories as make

API = "/api/v1/"
WEIR, HIDDEN = "WEIR", "ZETA"
"""The codes of the two sites; everything at a site has its code in its name."""


@dataclass
class Site:
    """Addresses of the records of one site, below /api/v1/, and the records that bodies refer to."""

    code: str
    plant: Plant
    storeroom: Storeroom
    area: Area
    equipment: Equipment
    position: Any
    item: Any
    keys: dict[str, Any] = field(default_factory=dict)

    @property
    def addresses(self) -> list[str]:
        return [f"{API}{resource}/{key}/" for resource, key in self.keys.items()]


def site(code: str) -> Site:
    room = make.StoreroomFactory(code=code, site=code)
    plant = make.PlantFactory(code=code, name=f"{code} maltings", storeroom=room)
    area = make.AreaFactory(plant=plant, code=f"{code}-A", name=f"{code} steeping")
    equipment = make.EquipmentFactory(tag=f"{code}-EL1", area=area, name=f"{code} elevator")
    drive = make.DriveFactory(tag=f"{code}-D1", equipment=equipment, name=f"{code} head drive")
    position = make.PositionFactory(tag=f"{code}-P1", drive=drive, name=f"{code} driver")
    item = make.ItemFactory(stock_number="SPR-BOTH")
    built = Site(code, plant, room, area, equipment, position, item)
    built.keys = records_of(built, drive)
    return built


def records_of(there: Site, drive: Any) -> dict[str, Any]:
    code, room, item = there.code, there.storeroom, there.item
    away = make.StoreroomFactory(code=f"{code}-N", site=code)
    shelf = make.BinFactory(storeroom=room, code=f"{code}-B1")
    entry = make.stock(item, room, 7, reference=f"{code}-PO").entry
    held = ledger.reserve(item, room, 2, work_order=f"{code}-WO", by=f"{code} clerk")
    asked = make.RequestFactory(item=item, storeroom=room, reference=f"{code}-R1", work_order=f"{code}-WO")
    job = {"source": code, "external_id": "1", "position": there.position}
    WorkOrder.objects.create(
        **job, title=f"{code} job", kind="corrective", status="open", source_updated_at=make.MORNING
    )
    MeterReading.objects.create(**job, at=make.MORNING, hours=900, source_updated_at=make.MORNING)
    order = make.SupplyOrderFactory(item=item, storeroom=room, source=code, external_id="1")
    group = DuplicateGroup.objects.create(likeness="equal", found_at=make.MORNING)
    for one in (make.ItemFactory(), make.ItemFactory()):
        DuplicateMember.objects.create(group=group, item=one)
    DuplicateShelf.objects.create(group=group, storeroom=room, pieces_together=1)
    merge = Merge.objects.create(
        item=make.ItemFactory(),
        into=item,
        reason=f"{code} has it twice",
        merged_at=make.MORNING,
        merged_by_name=code,
    )
    MergeLine.objects.create(merge=merge, step="stock", storeroom=room)
    return {
        "plants": code,
        "areas": there.area.pk,
        "equipment": there.equipment.tag,
        "drives": drive.tag,
        "positions": there.position.tag,
        "installations": make.InstallationFactory(position=there.position, item=item).pk,
        "inspections": make.InspectionFactory(position=there.position, note=f"{code} worn").pk,
        "storerooms": code,
        "bins": shelf.pk,
        "opening-hours": make.OpeningHoursFactory(storeroom=room).pk,
        "transfer-times": make.TransferTimeFactory(from_storeroom=room, to_storeroom=away).pk,
        "record-starts": make.RecordStartFactory(storeroom=room, note=code).pk,
        "stock": item.levels.get(storeroom=room).pk,
        "movements": entry.pk,
        "reservations": held.pk,
        "requests": asked.pk,
        "supply-orders": f"{order.source}/{order.external_id}",
        "delivery-checks": make.DeliveryCheckFactory(order=order, reference=f"{code}-D1").pk,
        "stock-policies": make.StockPolicyFactory(
            item=item, storeroom=room, reorder_point=50, order_up_to=60
        ).pk,
        "recommendations": make.RecommendationFactory(item=item, storeroom=room).pk,
        "work-orders": f"{code}/1",
        "meter-readings": f"{code}/1",
        "kits": Kit.objects.create(work_order=f"{code}-WO", storeroom=room, place=f"{code} cage").pk,
        "count-tasks": CountTask.objects.create(
            item=item, storeroom=room, cause="asked", due_on=make.MORNING.date(), note=code
        ).pk,
        "fit-questions": FitQuestion.objects.create(item=item, storeroom=room, entry=entry).pk,
        "duplicates": group.pk,
        "merges": merge.pk,
        "substitution-rules": make.SubstitutionRuleFactory(
            item=item, position=there.position, plant=there.plant, reason=f"{code} tore its teeth"
        ).pk,
        "changes": change_at(there).pk,
    }


def change_at(there: Site) -> Change:
    event_at(there)
    return Change.objects.create(
        by_name=there.code, action="create", record="drives.plant", key=there.code, plant=there.code
    )


def event_at(there: Site) -> Event:
    return Event.objects.create(
        type="kit.made",
        aggregate=f"kit/{there.code}",
        version=1,
        occurred_at=timezone.now(),
        storeroom=there.code,
        data={"kit": 1, "work_order": "WO-1", "place": there.code, "state": "open"},
        sequence=Event.objects.count() + 1,
    )


def client_of(token: AccessToken, secret: str) -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    client.token = token
    return client


def caller_at(there: Site, role: str = "manager") -> APIClient:
    """A token of the role that reaches this site alone."""
    token, secret = AccessToken.objects.issue(
        f"{role} of one site", role=role, last_used_at=timezone.now() + timedelta(seconds=5)
    )
    limit_to({"token": token}, [there.plant], [there.storeroom])
    return client_of(token, secret)
