"""What a position requires: its own record first, then its drive's, then the last unit fitted there for good.

Notes name what was taken from that unit, with its dates. A unit fitted for a limited time lends nothing, and a removal
takes nothing away.
"""

from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import FilteredRelation, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from drives.models import Drive, Inspection, Installation, Position, RequirementBasis
from drives.models.history import last_for_good
from drives.place.chain_check import judge_chain_for_place
from drives.place.duty import Duty
from drives.place.verdict import judge_for_place
from drives.substitutes.rules_here import RulesHere, number_of, rules_question
from inventory.catalogue.core_values import attributes_of, engagement_of, number, word_or_none
from inventory.catalogue.plant_practice import SETTINGS, practice_of
from inventory.facts import Fact, fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Verdict
from inventory.interchange.part_requirement import shaft_of
from inventory.interchange.requirement import Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import (
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    ShaftKind,
)
from inventory.models import CHAIN_KINDS, Item, PartKind, Rule, Specification
from inventory.plumbing.joint_statement import Parameters, answers
from inventory.plumbing.record_validation import day

SPECIFICATIONS = ("item__specification", "specification")
"""Of a unit: that of the day on which it was fitted, else that of its item."""

PLANT = "drive__equipment__area__plant"

ROUND_SHAFTS = (ShaftKind.KEYED, ShaftKind.PLAIN)


@dataclass(frozen=True)
class PositionRequirement:
    """What the sprocket at a position must be, and the duty of its drive."""

    position: Position
    fitted: Installation | None
    """There now, for good or for a limited time."""
    lender: Installation | None
    """The last unit fitted for good: gives what the position does not state."""
    required: Requirement
    duty: Duty
    notes: tuple[Fact, ...]

    def verdict_of(self, part: Specification, item: Item | None) -> Verdict:
        """The verdict of a recorded part here, by the settings of the plant and the rules for its item; one query."""
        put, offered = Parameters(), attributes_of(part)
        rows = answers(Rule, put, SETTINGS | {"item_rules": rules_question(put, self.position)})
        practice = practice_of(rows)
        if part.kind in CHAIN_KINDS:
            return judge_chain_for_place(self.required, offered, duty=self.duty, practice=practice)
        judge = partial(judge_for_place, self.required, duty=self.duty, practice=practice)
        rules = RulesHere.at_position(rows["item_rules"], self.position, timezone.now(), judge)
        return rules.settle(number_of(item), offered, judge(offered))


def positions_with_duty() -> QuerySet[Position]:
    """Positions with drive and plant; the teeth of the mating sprockets and the last elongation come as further columns."""
    mates = (
        Position.objects.filter(drive=OuterRef("drive"), teeth__isnull=False)
        .exclude(role=OuterRef("role"))
        .exclude(role=PositionRole.IDLER)
    )
    measured = Inspection.objects.filter(position__drive=OuterRef("drive"), elongation_percent__isnull=False)
    return Position.objects.select_related(PLANT).annotate(
        least_mating_teeth=Subquery(mates.order_by("teeth").values("teeth")[:1]),
        most_mating_teeth=Subquery(mates.order_by("-teeth").values("teeth")[:1]),
        elongation_percent=Subquery(measured.order_by("-at", "-id").values("elongation_percent")[:1]),
    )


def positions_with_requirements() -> QuerySet[Position]:
    """All that `position_requirement` reads, in one query: also the unit fitted now and the last one fitted for good."""
    positions = positions_with_duty().annotate(
        fitted_unit=FilteredRelation("installations", condition=Q(installations__removed_at__isnull=True)),
        lending_unit=FilteredRelation("installations", condition=Q(installations__pk=last_for_good("pk"))),
    )
    units = [f"{unit}__{part}" for unit in ("fitted_unit", "lending_unit") for part in SPECIFICATIONS]
    return positions.select_related(f"{PLANT}__storeroom__machine_shop", f"{PLANT}__machine_shop", *units)


def position_requirement(position: Position) -> PositionRequirement:
    """The requirement and duty of a position that `positions_with_requirements` gave; no query."""
    fitted, lender = _unit(position, "fitted_unit"), _unit(position, "lending_unit")
    required, lent = _completed(position, _sprocket(lender))
    notes = []
    if lender is not None and lent:
        notes.append(_lent(lender, lent, ZoneInfo(position.drive.equipment.area.plant.timezone)))
    if fitted is not None and fitted.temporary_until is not None:
        until = fitted.temporary_until.isoformat()
        notes.append(fact("temporary_unit_lends_nothing", item=_number(fitted), until_on=until))
    if position.requirement_basis == RequirementBasis.COPIED:
        notes.append(fact("requirement_copied_from_fitted_unit"))
    return PositionRequirement(position, fitted, lender, required, _duty(position), tuple(notes))


def required_with(position: Position, lender: Sprocket | None) -> tuple[Requirement, Duty]:
    """The requirement and duty of a position of `positions_with_duty` with the sprocket that lends what it does not state."""
    return _completed(position, lender)[0], _duty(position)


def fitted_sprocket(position: Position) -> Sprocket | None:
    """The sprocket that is fitted at such a position now, as far as it is recorded."""
    return _sprocket(_unit(position, "fitted_unit"))


def _unit(position: Position, relation: str) -> Installation | None:
    # Django sets the attribute of a filtered relation only where there is a row.
    return getattr(position, relation, None)


def _sprocket(unit: Installation | None) -> Sprocket | None:
    record = unit and (unit.specification or (unit.item.specification if unit.item else None))
    return attributes_of(record) if record and record.kind == PartKind.SPROCKET else None


def _number(unit: Installation) -> str | None:
    return unit.item.stock_number if unit.item else None


def _lent(lender: Installation, attributes: tuple[str, ...], zone: ZoneInfo) -> Fact:
    """With its days by the clock of the plant."""
    installed_on = day(lender.installed_at.astimezone(zone))
    values = {"item": _number(lender), "installed_on": installed_on, "attributes": attributes}
    if lender.removed_at is None:
        return fact("requirement_taken_from_fitted_unit", **values)
    return fact(
        "requirement_taken_from_removed_unit", **values, removed_on=day(lender.removed_at.astimezone(zone))
    )


def _own_requirement(position: Position) -> Requirement:
    drive = position.drive
    hardened = (
        position.hardened_teeth if position.hardened_teeth is not None else drive.hardened_teeth_required
    )
    return Requirement(
        chain=engagement_of(drive),
        strands=drive.strands,
        teeth=position.teeth,
        role=PositionRole(position.role),
        minimum_teeth=position.minimum_teeth,
        shaft=_shaft(position),
        hub_style=word_or_none(HubStyle, position.hub_style),
        material=word_or_none(Material, position.material),
        hardened_teeth=hardened,
        environment=frozenset(Environment(word) for word in drive.environment),
        envelope=Envelope(
            outside_diameter_mm=number(position.envelope_outside_diameter_mm),
            hub_diameter_mm=number(position.envelope_hub_diameter_mm),
            length_through_bore_mm=number(position.envelope_length_through_bore_mm),
            is_measured=position.requirement_basis == RequirementBasis.STATED,
        ),
        food_contact_required=drive.food_contact_required,
        non_sparking_required=drive.non_sparking_required,
        is_shock_loaded=None if not drive.shock else drive.shock != "smooth",
    )


def _shaft(position: Position) -> Shaft | None:
    if not position.shaft_kind:
        return None
    return Shaft(
        kind=ShaftKind(position.shaft_kind),
        diameter_mm=number(position.shaft_diameter_mm),
        key_width_mm=number(position.key_width_mm),
        key_height_mm=number(position.key_height_mm),
        keyway_depth_mm=number(position.keyway_depth_mm),
        key_standard=word_or_none(KeyStandard, position.key_standard),
        across_flats_mm=number(position.hex_across_flats_mm),
        bush_size=position.bush_size or None,
    )


def _completed(position: Position, lender: Sprocket | None) -> tuple[Requirement, tuple[str, ...]]:
    """The requirement with what the position leaves out taken from the last unit for good, and the names of that."""
    own = _own_requirement(position)
    if lender is None:
        return own, ()
    is_hardness_open = position.hardened_teeth is None and not position.drive.hardened_teeth_required
    offered: dict[str, Any] = {
        "chain": lender.chain,
        "strands": lender.strands,
        "teeth": lender.teeth,
        "single_cut": lender.single_cut,
        "shaft": shaft_of(lender),
        # Of a bushed hub the record shows no shaft, but an equal hub goes on the same bush.
        "interface": lender if is_bushed(lender) and own.shaft is None else None,
        "hub_style": lender.hub_style,
        "material": lender.material,
        "material_grade": _stainless_grade(own, lender),
    }
    lent = {
        name: value for name, value in offered.items() if getattr(own, name) is None and value is not None
    }
    if own.shaft is not None and not own.shaft.bush_size and _sat_on_bush(own.shaft, lender):
        lent["shaft"] = replace(own.shaft, bush_size=lender.bush_size)
    # Soft teeth are not lent: that they ran does not show that they are enough.
    if is_hardness_open and lender.hardened_teeth:
        lent["hardened_teeth"] = True
    named = {"interface": "bush_size"} if own.shaft is None else {"shaft": "bush_size"}
    return replace(own, **lent), tuple(named.get(name, name) for name in lent)


def _sat_on_bush(shaft: Shaft, lender: Sprocket) -> bool:
    return shaft.kind in ROUND_SHAFTS and is_bushed(lender) and bool(lender.bush_size)


def _stainless_grade(own: Requirement, lender: Sprocket) -> str | None:
    """Grades decide between stainless steels alone."""
    is_stainless = lender.material is Material.STAINLESS_STEEL and own.material in (None, lender.material)
    return lender.material_grade if is_stainless else None


def _duty(position: Position) -> Duty:
    drive: Drive = position.drive
    columns: Any = position
    return Duty(
        power_kw=number(drive.power_kw),
        speed_rpm=number(drive.driver_speed_rpm),
        service_factor=number(drive.service_factor),
        mating_teeth=_mating_teeth(columns),
        centre_distance_mm=number(drive.centre_distance_mm),
        links=drive.links,
        centre_adjustment_mm=_adjustment(drive.centre_adjustment_min_mm, drive.centre_adjustment_max_mm),
        fixed_centres=drive.fixed_centres,
        ratio_tolerance_percent=number(drive.ratio_tolerance_percent),
        lifting=drive.lifting,
        # A chain that was renewed since has to be measured again.
        elongation_percent=number(columns.elongation_percent),
    )


def _adjustment(least: Decimal | None, most: Decimal | None) -> tuple[float, float] | None:
    return None if least is None or most is None else (float(least), float(most))


def _mating_teeth(position: Any) -> int | None:
    """Teeth of the sprocket that this one drives or is driven by; None where there is none or more than one count."""
    if position.role == PositionRole.IDLER or position.least_mating_teeth != position.most_mating_teeth:
        return None
    teeth: int | None = position.least_mating_teeth
    return teeth
