"""A small plant with one of everything that a page has to show."""

from dataclasses import dataclass

from django.contrib.auth.models import Group, User
from django.test import Client

from drives.models import Position
from inventory.models import Item
from tests.factories import (
    AdminFactory,
    BushedSprocketFactory,
    BushItemFactory,
    DrivenFactory,
    IdlerFactory,
    InstallationFactory,
    ItemFactory,
    OpeningHoursFactory,
    PilotBoredFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    UserFactory,
    stock,
)


@dataclass(frozen=True)
class SmallPlant:
    """Its places and parts by what they are for, and the session of one who may see them all."""

    session: str
    driver: Position
    hoist: Position
    drop_in: Item
    pilot: Item
    trap: Item


def small_plant() -> SmallPlant:
    room = StoreroomFactory()
    for weekday in range(7):
        OpeningHoursFactory(storeroom=room, weekday=weekday, opens="00:00", closes="00:00")
    driver = PositionFactory(tag="STEEP-EL1-D1-DRV", drive__tag="STEEP-EL1-D1")
    DrivenFactory(tag="STEEP-EL1-D1-DVN", drive=driver.drive)
    IdlerFactory(tag="STEEP-EL1-D1-IDL", drive=driver.drive, shaft_diameter_mm=20)
    hoist = PositionFactory(tag="DRESS-HO1-D1-DRV", drive__tag="DRESS-HO1-D1", drive__lifting=True)
    drop_in = ItemFactory(stock_number="41-0105")
    pilot = ItemFactory(stock_number="41-0110", description="08B17 PILOT", specification=PilotBoredFactory())
    trap = ItemFactory(
        stock_number="41-0115",
        description="SPKT 40B17 25 MM",
        specification=SprocketFactory(chain_designation="08A"),
    )
    bushed = ItemFactory(stock_number="41-0120", specification=BushedSprocketFactory(teeth=17))
    for part in (drop_in, pilot, trap, bushed, BushItemFactory(stock_number="51-0105")):
        stock(part, room, 2)
    InstallationFactory(position=driver, item=drop_in)
    return SmallPlant(_session(AdminFactory()), driver, hoist, drop_in, pilot, trap)


def session_of(*roles: str) -> str:
    """Of one who has these roles and no other."""
    user = UserFactory()
    user.groups.set([Group.objects.get_or_create(name=role)[0] for role in roles])
    return _session(user)


def _session(user: User) -> str:
    client = Client()
    client.force_login(user)
    return client.cookies["sessionid"].value
