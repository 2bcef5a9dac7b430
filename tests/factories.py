"""One small malting plant, built by hand: intake, steeping, germination, kilning, dispatch.

Every value is fixed or counted up; nothing is random.
"""

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import factory
from django.contrib.auth import get_user_model
from factory.django import DjangoModelFactory

from drives.models import (
    Area,
    Drive,
    Equipment,
    Inspection,
    Installation,
    Plant,
    Position,
    RecordStart,
    Request,
    SubstitutionRule,
)
from inventory.models import (
    Bin,
    DeliveryCheck,
    Item,
    MachineShop,
    OpeningHours,
    PlantSetting,
    Recommendation,
    Reservation,
    Rule,
    ServiceTarget,
    ShopTime,
    Specification,
    StockingRun,
    StockingTerms,
    StockLevel,
    StockPolicy,
    Storeroom,
    SupplyOrder,
    TransferTime,
)
from inventory.stores.ledger import Booked
from tests.movements import receive

MORNING = datetime(2024, 3, 4, 6, 30, tzinfo=UTC)
"""A Monday, well in the past, before the first shift's first job."""


class UserFactory(DjangoModelFactory[Any]):
    """Marta keeps the storeroom; ask for `username=` to have somebody else."""

    class Meta:
        model = get_user_model()
        django_get_or_create = ("username",)

    username = "marta"
    first_name = "Marta"
    last_name = "Keller"


class AdminFactory(UserFactory):
    username = "ines"
    first_name = "Ines"
    last_name = "Okafor"
    is_staff = True
    is_superuser = True


class MachineShopFactory(DjangoModelFactory[MachineShop]):
    class Meta:
        model = MachineShop
        django_get_or_create = ("code",)

    code = "SHOP"
    name = "Machine shop behind the kiln"
    timezone = "Europe/Berlin"
    call_out_minutes = 90


class StoreroomFactory(DjangoModelFactory[Storeroom]):
    class Meta:
        model = Storeroom
        django_get_or_create = ("code",)

    code = "MAIN"
    name = factory.LazyAttribute(lambda room: f"Storeroom {room.code}")
    site = "Weir Lane"
    timezone = "Europe/Berlin"
    machine_shop = factory.SubFactory(MachineShopFactory)
    pick_minutes = 10
    call_out_minutes = 45


class BinFactory(DjangoModelFactory[Bin]):
    class Meta:
        model = Bin
        django_get_or_create = ("storeroom", "code")

    storeroom = factory.SubFactory(StoreroomFactory)
    code = factory.Sequence(lambda n: f"A-{n:02d}")


class OpeningHoursFactory(DjangoModelFactory[OpeningHours]):
    class Meta:
        model = OpeningHours

    storeroom = factory.SubFactory(StoreroomFactory)
    weekday = 0
    opens = "06:00"
    closes = "14:00"


class TransferTimeFactory(DjangoModelFactory[TransferTime]):
    class Meta:
        model = TransferTime

    from_storeroom = factory.SubFactory(StoreroomFactory)
    to_storeroom = factory.SubFactory(StoreroomFactory, code="NORTH")
    minutes = 40


class RuleFactory(DjangoModelFactory[Rule]):
    class Meta:
        model = Rule

    name = "heavy_mass_kg"
    value = 20.0


class ShopTimeFactory(DjangoModelFactory[ShopTime]):
    class Meta:
        model = ShopTime

    operation = "bore"
    minutes = 35


class SpecificationFactory(DjangoModelFactory[Specification]):
    """A specification as full_clean leaves it: designation adopted, dimensions filled from the standard.

    The constraints are left to the database, which holds them at the INSERT: full_clean asks it a query for each.
    """

    class Meta:
        model = Specification

    kind = "other"

    @classmethod
    def _create(cls, model_class: Any, *args: Any, **values: Any) -> Any:
        specification = model_class(*args, **values)
        specification.full_clean(validate_constraints=False)
        specification.save()
        return specification


class SprocketFactory(SpecificationFactory):
    """08B, 17 teeth, hub B, bored 25 with its keyway: fits the driver of the steep elevator as it is."""

    kind = "sprocket"
    chain_designation = "08B"
    strands = 1
    teeth = 17
    role_kind = "drive"
    hub_style = "B"
    bore_type = "finished"
    bore_mm = Decimal("25")
    max_bore_mm = Decimal("28")
    keyway_width_mm = Decimal("8")
    keyway_depth_mm = Decimal("3.3")
    key_standard = "ISO 773"
    set_screws = 2
    hub_diameter_mm = Decimal("52")
    length_through_bore_mm = Decimal("28")
    material = "carbon_steel"
    hardened_teeth = False


class PilotBoredFactory(SprocketFactory):
    bore_type = "plain"
    bore_mm = Decimal("12")
    keyway_width_mm = None
    keyway_depth_mm = None
    key_standard = ""
    set_screws = None


class BushedSprocketFactory(SprocketFactory):
    """Takes a 1610 taper bush; the bore and its keyway come with the bush."""

    bore_type = "tapered"
    bush_size = "1610"
    teeth = 19
    bore_mm = None
    max_bore_mm = None
    keyway_width_mm = None
    keyway_depth_mm = None
    key_standard = ""
    set_screws = None


class BushFactory(SpecificationFactory):
    kind = "bush"
    bush_size = "1610"
    bore_mm = Decimal("25")
    keyway_width_mm = Decimal("8")
    keyway_depth_mm = Decimal("3.3")
    key_standard = "ISO 773"


class KeyFactory(SpecificationFactory):
    kind = "key"
    keyway_width_mm = Decimal("8")
    key_height_mm = Decimal("7")
    key_length_mm = Decimal("28")
    key_standard = "ISO 773"


class ChainFactory(SpecificationFactory):
    kind = "chain"
    chain_designation = "08B"
    strands = 1


class ItemFactory(DjangoModelFactory[Item]):
    class Meta:
        model = Item
        django_get_or_create = ("stock_number",)

    stock_number = factory.Sequence(lambda n: f"SPR-{n:04d}")
    description = "SPROCKET 08B-1 Z17 HUB B 25H7 KW8"
    specification = factory.SubFactory(SprocketFactory)
    unit_cost = Decimal("38.50")
    lead_time_days = 21


class BushItemFactory(ItemFactory):
    stock_number = factory.Sequence(lambda n: f"BSH-{n:04d}")
    description = "TAPER BUSH 1610 25MM"
    specification = factory.SubFactory(BushFactory)
    unit_cost = Decimal("14.20")


class ChainItemFactory(ItemFactory):
    """Counted in links, kept in boxes and remnants."""

    stock_number = factory.Sequence(lambda n: f"CHN-{n:04d}")
    description = "ROLLER CHAIN 08B-1"
    specification = factory.SubFactory(ChainFactory)
    unit = "link"
    unit_cost = Decimal("0.35")


class PlantFactory(DjangoModelFactory[Plant]):
    class Meta:
        model = Plant
        django_get_or_create = ("code",)

    code = "WEIR"
    name = "Weir Lane maltings"
    timezone = "Europe/Berlin"
    storeroom = factory.SubFactory(StoreroomFactory)
    machine_shop = factory.SubFactory(MachineShopFactory)


class AreaFactory(DjangoModelFactory[Area]):
    class Meta:
        model = Area
        django_get_or_create = ("plant", "code")

    plant = factory.SubFactory(PlantFactory)
    code = "STEEP"
    name = "Steeping"


class EquipmentFactory(DjangoModelFactory[Equipment]):
    class Meta:
        model = Equipment
        django_get_or_create = ("tag",)

    tag = "STEEP-EL1"
    area = factory.SubFactory(AreaFactory)
    name = "Bucket elevator to the steeps"


class DriveFactory(DjangoModelFactory[Drive]):
    """08B, 17 to 51 teeth on 500 mm centres; tags count up unless one is given."""

    class Meta:
        model = Drive
        django_get_or_create = ("tag",)

    tag = factory.Sequence(lambda n: f"STEEP-EL1-D{n}")
    equipment = factory.SubFactory(EquipmentFactory)
    name = "Head drive"
    chain_designation = "08B"
    pitch_mm = Decimal("12.7")
    roller_diameter_mm = Decimal("8.51")
    inner_width_mm = Decimal("7.75")
    transverse_pitch_mm = Decimal("13.92")
    strands = 1
    links = 114
    centre_distance_mm = Decimal("500")
    centre_adjustment_min_mm = Decimal("-10")
    centre_adjustment_max_mm = Decimal("10")
    fixed_centres = False
    power_kw = Decimal("1.1")
    driver_speed_rpm = Decimal("500")
    service_factor = Decimal("1.4")
    ratio_tolerance_percent = Decimal("2")
    lubrication = "manual"
    environment = factory.LazyFunction(lambda: ["clean_dry"])
    hours_per_year = 6000
    criticality = "essential"
    downtime_cost_per_hour = Decimal("420")
    fitting_minutes = 60


class PositionFactory(DjangoModelFactory[Position]):
    """The driver of a drive: 17 teeth on a 25 mm shaft with a key of 8; tags count up."""

    class Meta:
        model = Position
        django_get_or_create = ("tag",)

    drive = factory.SubFactory(DriveFactory)
    tag = factory.Sequence(lambda n: f"STEEP-EL1-P{n}")
    name = "Driver on the gearbox shaft"
    role = "driver"
    teeth = 17
    shaft_kind = "keyed"
    shaft_diameter_mm = Decimal("25")
    key_width_mm = Decimal("8")
    key_height_mm = Decimal("7")
    keyway_depth_mm = Decimal("3.3")
    key_standard = "ISO 773"
    hub_style = "B"
    material = "carbon_steel"
    envelope_outside_diameter_mm = Decimal("90")
    envelope_hub_diameter_mm = Decimal("60")
    envelope_length_through_bore_mm = Decimal("30")
    requirement_basis = "stated"


class DrivenFactory(PositionFactory):
    name = "Driven on the head shaft"
    role = "driven"
    teeth = 51


class IdlerFactory(PositionFactory):
    name = "Idler on the slack strand"
    role = "idler"
    idler_kind = "adjustable"
    minimum_teeth = 13
    shaft_kind = "pin"


class InstallationFactory(DjangoModelFactory[Installation]):
    """A unit still fitted; give `removed_at` and `ended_by` for a life that has ended."""

    class Meta:
        model = Installation

    position = factory.SubFactory(PositionFactory)
    item = factory.SubFactory(ItemFactory)
    installed_at = MORNING


class InspectionFactory(DjangoModelFactory[Inspection]):
    class Meta:
        model = Inspection

    position = factory.SubFactory(PositionFactory)
    at = MORNING
    elongation_percent = Decimal("0.8")


class StockLevelFactory(DjangoModelFactory[StockLevel]):
    """A bare row without its ledger: for tests of the row itself. Use `stock` everywhere else."""

    class Meta:
        model = StockLevel

    item = factory.SubFactory(ItemFactory)
    storeroom = factory.SubFactory(StoreroomFactory)


class ReservationFactory(DjangoModelFactory[Reservation]):
    """A bare row that holds nothing back: for tests of the row itself. Use `ledger.reserve` everywhere else."""

    class Meta:
        model = Reservation

    item = factory.SubFactory(ItemFactory)
    storeroom = factory.SubFactory(StoreroomFactory)
    quantity = 1
    open_quantity = 1
    work_order = "WO-1001"


class SupplyOrderFactory(DjangoModelFactory[SupplyOrder]):
    """One piece on order since Monday; numbers count up."""

    class Meta:
        model = SupplyOrder

    source = "purchasing"
    external_id = factory.Sequence(lambda n: f"PO-{n:05d}")
    item = factory.SubFactory(ItemFactory)
    storeroom = factory.SubFactory(StoreroomFactory)
    quantity = 1
    ordered_at = MORNING
    unit_price = Decimal("38.50")
    source_updated_at = MORNING


class DeliveryCheckFactory(DjangoModelFactory[DeliveryCheck]):
    """One piece that passed, at the place of its order."""

    class Meta:
        model = DeliveryCheck

    order = factory.SubFactory(SupplyOrderFactory)
    item = factory.SelfAttribute("order.item")
    storeroom = factory.SelfAttribute("order.storeroom")
    quantity = received_quantity = 1
    outcome = "passes"
    checked_at = MORNING
    checked_by_name = "Marta Keller"


class RequestFactory(DjangoModelFactory[Request]):
    class Meta:
        model = Request

    item = factory.SubFactory(ItemFactory)
    storeroom = factory.SubFactory(StoreroomFactory)
    at = MORNING
    result = "filled"


class StockPolicyFactory(DjangoModelFactory[StockPolicy]):
    class Meta:
        model = StockPolicy

    item = factory.SubFactory(ItemFactory)
    storeroom = factory.SubFactory(StoreroomFactory)
    reorder_point = 0
    order_up_to = 1


class RecordStartFactory(DjangoModelFactory[RecordStart]):
    class Meta:
        model = RecordStart

    storeroom = factory.SubFactory(StoreroomFactory)
    source = "requests"


class PlantSettingFactory(DjangoModelFactory[PlantSetting]):
    class Meta:
        model = PlantSetting

    name = "fewest_worn_out"
    value = 6


class ServiceTargetFactory(DjangoModelFactory[ServiceTarget]):
    class Meta:
        model = ServiceTarget
        django_get_or_create = ("importance",)

    importance = "essential"
    value = 0.95


class StockingTermsFactory(DjangoModelFactory[StockingTerms]):
    class Meta:
        model = StockingTerms
        django_get_or_create = ("id",)

    id = 1


class StockingRunFactory(DjangoModelFactory[StockingRun]):
    class Meta:
        model = StockingRun

    as_of = MORNING
    state = "done"


class RecommendationFactory(DjangoModelFactory[Recommendation]):
    class Meta:
        model = Recommendation

    run = factory.SubFactory(StockingRunFactory)
    item = factory.SubFactory(ItemFactory)
    storeroom = factory.SubFactory(StoreroomFactory)
    reorder_point = 1
    order_up_to = 2
    model = "poisson"
    target_kind = "fill_rate"
    target_value = 0.95
    rate_per_year = 1.0
    lead_time_days = 21.0
    expected_lead_time_demand = 0.0575
    fill_rate = 0.998
    expected_stockouts_per_year = 0.002
    inputs_hash = "0" * 64


def stock(item: Item, storeroom: Storeroom, quantity: int, **details: Any) -> Booked:
    """Put so many on the shelf as a delivery does; `pieces=[…]` for chain, `condition=` for used ones."""
    return receive(item, storeroom, quantity, **{"by": "Marta Keller", "occurred_at": MORNING} | details)


class SubstitutionRuleFactory(DjangoModelFactory[SubstitutionRule]):
    """Everywhere, for good."""

    class Meta:
        model = SubstitutionRule

    kind = "never"
    item = factory.SubFactory(ItemFactory)
    reason = "tore its teeth in May"
    given_by = "Ines Okafor"
    recorded_by_name = "Ines Okafor"
    valid_from = MORNING.date()
