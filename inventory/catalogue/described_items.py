"""What the description of an item says that its specification does not know yet. Nothing that is recorded is changed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from inventory.descriptions.reader import read_description
from inventory.descriptions.reading import DescriptionReading, ReadAttribute
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Material
from inventory.models import Item, PartKind, Specification
from inventory.models.messages import MESSAGES, fact_of_invalid
from inventory.standards.chains import find_chain

COLUMNS = {
    "chain": "chain_designation",
    **{
        name: name
        for name in (
            *("strands", "teeth", "role_kind", "hub_style", "bore_type", "bore_mm", "max_bore_mm"),
            *("keyway_width_mm", "keyway_depth_mm", "set_screws", "bush_size", "hex_across_flats_mm"),
            *("hub_diameter_mm", "length_through_bore_mm", "outside_diameter_mm", "tooth_width_mm"),
            *("material", "material_grade", "hardened_teeth", "single_cut", "mass_kg"),
        )
    },
}
"""Columns of a sprocket's specification by the attribute that is read."""
BUSHED = ("tapered", "qd")
LENGTH_STEP = Decimal("0.000001")
SHOWN_TEXT = 40


@dataclass(frozen=True)
class DescribedItem:
    """What was read of one item: `fills` are its unknown attributes, `differs` what is recorded otherwise.

    Only a parsed line fills anything, and none that contradicts the record: then `refusal` says why.
    """

    item: Item
    reading: DescriptionReading
    fills: Mapping[str, ReadAttribute] = field(default_factory=dict)
    differs: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    refusal: Fact | None = None

    @property
    def can_be_written(self) -> bool:
        return bool(self.fills) and self.refusal is None


def describe(item: Item) -> DescribedItem:
    """Compare the reading of an item's description with its specification."""
    reading = read_description(item.description)
    specification = item.specification
    if reading.outcome != "parsed":
        return DescribedItem(item, reading)
    if specification is not None and specification.kind != PartKind.SPROCKET:
        refusal = fact("record_is_another_part", kind=specification.kind)
        return DescribedItem(item, reading, refusal=refusal)
    fills, differs = _compared(specification or Specification(), reading)
    if differs:
        names = tuple(sorted(differs))
        return DescribedItem(
            item, reading, fills, differs, fact("description_contradicts_record", attributes=names)
        )
    return DescribedItem(item, reading, fills, refusal=_breaks_a_rule(specification, fills))


def _compared(
    specification: Specification, reading: DescriptionReading
) -> tuple[dict[str, ReadAttribute], dict[str, tuple[Any, Any]]]:
    fills, differs = {}, {}
    for name, found in reading.attributes.items():
        if name not in COLUMNS or found.basis == "assumed" or not _belongs_in_record(name, reading):
            continue
        recorded = getattr(specification, COLUMNS[name])
        if recorded in (None, ""):
            fills[name] = found
        elif not _is_recorded(name, recorded, found.value):
            differs[name] = (recorded, found.value)
    return fills, differs


def _belongs_in_record(name: str, reading: DescriptionReading) -> bool:
    """A bore beside a bush is that of the bush; two single rows, aluminium and effective teeth have no column."""
    values = {one: attribute.value for one, attribute in reading.attributes.items()}
    if name == "bore_mm":
        return values.get("bore_type") not in BUSHED
    if name == "strands":
        return isinstance(values["strands"], int)
    if name == "material":
        return values["material"] in {word.value for word in Material}
    if name == "teeth" and values.get("teeth_counted") == "effective":
        chain = find_chain(str(values["chain"]))
        return chain.has_large_rollers or values.get("single_cut") is True
    return True


def _is_recorded(name: str, recorded: Any, read: Any) -> bool:
    if name == "chain":
        return find_chain(str(recorded)).designation == find_chain(str(read)).designation
    if isinstance(recorded, Decimal):
        return abs(recorded - Decimal(str(read))) < Decimal("0.01")
    return bool(str(recorded).casefold() == str(read).casefold())


def _column_value(name: str, value: Any) -> Any:
    if name.endswith("_mm"):
        return Decimal(str(value)).quantize(LENGTH_STEP)
    return Decimal(str(value)) if name == "mass_kg" else value


def _filled(specification: Specification | None, fills: Mapping[str, ReadAttribute]) -> Specification:
    record = specification or Specification(kind=PartKind.SPROCKET)
    for name, found in fills.items():
        setattr(record, COLUMNS[name], _column_value(name, found.value))
    return record


def copy_of(specification: Specification) -> Specification:
    columns = {
        one.attname: getattr(specification, one.attname) for one in specification._meta.concrete_fields
    }
    return Specification(**columns)


def _breaks_a_rule(specification: Specification | None, fills: Mapping[str, ReadAttribute]) -> Fact | None:
    """The first rule of the record that it would break with what was read, tried on a copy."""
    record = _filled(None if specification is None else copy_of(specification), fills)
    try:
        record.clean_fields()
        record.clean()
        record.validate_constraints()
    except ValidationError as error:
        first = next(iter(error.error_dict.values()))[0]
        if first.code in MESSAGES:
            return fact_of_invalid(first)
        return fact("record_does_not_allow", rule=error.messages[0])
    return None


def basis_note(fills: Mapping[str, ReadAttribute], on: date) -> str:
    """One line for the note of the item: what was read on which day, each with its basis and text."""
    read = ", ".join(
        f"{name} ({found.basis}: {found.text[:SHOWN_TEXT]})" for name, found in sorted(fills.items())
    )
    return f"Read from the description on {on.isoformat()}: {read}."


def locked_item(pk: int) -> Item:
    """The item with its specification, both locked until the end of the transaction."""
    item = Item.objects.select_for_update().get(pk=pk)
    if item.specification_id is not None:
        item.specification = Specification.objects.select_for_update().get(pk=item.specification_id)
    return item


def fill_specification(described: DescribedItem, on: date) -> None:
    """Write what a locked item's description adds; an item without a specification gets one. The basis goes into its note."""
    item = described.item
    specification = _filled(item.specification, described.fills)
    specification.full_clean()
    specification.save()
    item.specification = specification
    item.note = f"{item.note}\n{basis_note(described.fills, on)}".strip()
    item.save(update_fields=["specification", "note", "updated_at"])
