"""Attributes that somebody measured at the shelf: where to measure, what contradicts the record, and the one writer."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from inventory.catalogue.core_values import attributes_of, core_value
from inventory.catalogue.described_items import COLUMNS, copy_of
from inventory.facts import Fact, Refusal, fact
from inventory.identification.identify import identify
from inventory.identification.readings import Readings
from inventory.interchange.requirement import Sprocket
from inventory.models import Item, PartKind, Specification
from inventory.models.messages import MESSAGES, fact_of_invalid
from inventory.standards.chains import find_chain
from inventory.standards.tooth_counts import COUNTED_TEETH

MEASURABLE = (
    *("chain", "strands", "teeth", "bore_type", "bore_mm", "hex_across_flats_mm", "bush_size"),
    *("keyway_width_mm", "keyway_depth_mm", "set_screws", "max_bore_mm", "hub_style", "hub_diameter_mm"),
    *("length_through_bore_mm", "tooth_width_mm", "outside_diameter_mm", "single_cut", "material"),
    *("material_grade", "hardened_teeth"),
)
MEASURED = "measured"
OF_RIM = frozenset({"chain", "teeth", "strands", "outside_diameter_mm", "tooth_width_mm"})
"""What the model of identification knows of."""
READ = ("outside_diameter_mm", "tooth_width_mm", "strands", "bore_mm", "keyway_width_mm", "hub_diameter_mm")


def is_recorded(specification: Specification | None, attribute: str) -> bool:
    column = COLUMNS.get(attribute, attribute)
    return specification is not None and getattr(specification, column) not in (None, "")


def how_to_measure(specification: Specification, attribute: str) -> Fact:
    """Where to put the calliper, or what to look at; of an unknown chain, the measurement that is expected to decide best."""
    part = attributes_of(specification)
    if attribute != "chain":
        return fact("measure_at_the_shelf", attribute=attribute)
    if part.teeth is None:
        return fact("measure_at_the_shelf", attribute="teeth")
    proposed = identify(_readings(part)).measure_next
    return proposed[0].reason if proposed else fact("measure_at_the_shelf", attribute="chain")


def checked_measurements(specification: Specification | None, values: Mapping[str, Any]) -> Specification:
    """The specification as it would be, not saved. Raises Refusal with the attribute that cannot be so."""
    if specification is None or specification.kind != PartKind.SPROCKET:
        raise Refusal(fact("nothing_to_measure"), field=next(iter(values)))
    draft = copy_of(specification)
    for name, value in values.items():
        if is_recorded(specification, name):
            recorded = core_value(name, getattr(specification, COLUMNS.get(name, name)))
            raise Refusal(fact("attribute_is_recorded", attribute=name, recorded=recorded), field=name)
        setattr(draft, COLUMNS.get(name, name), value)
    _refuse_broken_rules(draft, values)
    _refuse_contradictions(attributes_of(draft), values)
    return draft


def _refuse_broken_rules(draft: Specification, values: Mapping[str, Any]) -> None:
    try:
        draft.clean_fields()
        draft.clean()
        draft.validate_constraints()
    except ValidationError as error:
        name, found = next(iter(error.error_dict.items()))
        known = found[0].code in MESSAGES
        rule = fact_of_invalid(found[0]) if known else fact("record_does_not_allow", rule=error.messages[0])
        raise Refusal(rule, field=name if name in values else next(iter(values))) from error


def _readings(part: Sprocket, teeth: int | None = None) -> Readings:
    return Readings(teeth=part.teeth or teeth or 0, **{name: getattr(part, name) for name in READ})


def _refuse_contradictions(part: Sprocket, values: Mapping[str, Any]) -> None:
    """By the checks of identification; what is refused is what was measured now, not what stands."""
    try:
        # Without a count, any will do: only a chord is checked by it, and none is here.
        readings = _readings(part, teeth=COUNTED_TEETH[0])
        found = identify(readings) if part.teeth and OF_RIM & set(values) and _is_measured(part) else None
    except Refusal as refusal:
        field = refusal.field if refusal.field in values else next(iter(values))
        raise Refusal(refusal.fact, field=field) from refusal
    if found is None or part.chain is None or part.chain.designation is None:
        return
    designation = find_chain(part.chain.designation).designation
    if not any(designation in one.rim.designations for one in found.candidates):
        field = next(name for name in MEASURABLE if name in values and name in OF_RIM)
        sizes = {name: getattr(part, name) for name in ("outside_diameter_mm", "tooth_width_mm")}
        raise Refusal(
            fact("measured_contradicts_chain", chain=designation, teeth=part.teeth, **sizes), field=field
        )


def _is_measured(part: Sprocket) -> bool:
    return part.outside_diameter_mm is not None or part.tooth_width_mm is not None


def write_measurements(
    item: Item, draft: Specification, values: Mapping[str, Any], *, by: str, on: date
) -> None:
    """Of a locked item; every number that shares the specification has it from now on. The basis goes into its note."""
    draft.save()
    item.specification = draft
    read = ", ".join(f"{name} {shown_value(value)}" for name, value in values.items())
    item.note = f"{item.note}\nMeasured at a count on {on.isoformat()} by {by}: {read}.".strip()
    item.save(update_fields=["note", "updated_at"])


def shown_value(value: Any) -> Any:
    """As JSON has it."""
    return float(value) if isinstance(value, Decimal) else value


def shares_specification(item: Item) -> list[str]:
    """Other stock numbers that the same specification describes."""
    others = Item.objects.filter(specification=item.specification_id).exclude(pk=item.pk).not_merged()
    return list(others.order_by("stock_number").values_list("stock_number", flat=True))
