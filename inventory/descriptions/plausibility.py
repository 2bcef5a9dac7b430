"""What cannot be true together: a bore beyond the root of the teeth, a key that suits no such bore, a bush that takes none."""

from inventory.descriptions.key_sizes import is_key_width, suits_bore
from inventory.descriptions.labelled_lengths import BUSH_SLACK_MM, bush_range_mm
from inventory.descriptions.root_diameter import root_diameter_of
from inventory.descriptions.typed_line import TypedLine
from inventory.standards.chains import find_chain
from inventory.standards.tooth_formulas import max_hub_diameter_asme_mm, pitch_diameter_mm

SMALLEST_BORE_MM, LARGEST_BORE_MM = 4.0, 400.0
LEAST_TIP = 0.95
"""Of the pitch diameter: worn tips. Judgement; a double-cut rim may count twice the teeth."""


def check_sizes(line: TypedLine) -> None:
    bore = line.value_of("bore_mm")
    if isinstance(bore, float):
        _check_bore(line, bore)
    width = line.value_of("keyway_width_mm")
    if isinstance(width, float):
        if not is_key_width(width):
            line.ask("key_width_not_known", width_mm=width)
        elif isinstance(bore, float) and not suits_bore(width, bore):
            line.ask("key_does_not_suit_bore", width_mm=width, bore_mm=bore)
    _check_outside(line)
    hub = line.value_of("hub_diameter_mm")
    if isinstance(hub, float) and isinstance(bore, float) and hub <= bore:
        line.ask("values_contradict", attribute="hub_diameter_mm", first=f"{bore:g}", second=f"{hub:g}")
    most = line.value_of("max_bore_mm")
    if isinstance(most, float) and isinstance(bore, float) and most < bore:
        line.ask("values_contradict", attribute="max_bore_mm", first=str(bore), second=str(most))


def _check_outside(line: TypedLine) -> None:
    """The tips lie over the pitch circle and at most a pitch beyond it, and a hub within the tips."""
    outside, hub = line.value_of("outside_diameter_mm"), line.value_of("hub_diameter_mm")
    chain, teeth = line.value_of("chain"), line.value_of("teeth")
    if not isinstance(chain, str) or not isinstance(teeth, int):
        return
    pitch_mm = find_chain(chain).pitch_mm
    pitch_circle_mm = pitch_diameter_mm(pitch_mm, teeth)
    if (
        isinstance(outside, float)
        and not LEAST_TIP * pitch_circle_mm <= outside <= pitch_circle_mm + pitch_mm
    ):
        line.ask(
            "outside_not_of_teeth", outside_diameter_mm=outside, pitch_diameter_mm=round(pitch_circle_mm, 2)
        )
    if isinstance(hub, float) and hub >= pitch_circle_mm:
        line.ask("hub_beyond_teeth", hub_diameter_mm=hub, pitch_diameter_mm=round(pitch_circle_mm, 2))


def _check_bore(line: TypedLine, bore_mm: float) -> None:
    root_mm = root_diameter_of(line)
    if not SMALLEST_BORE_MM <= bore_mm <= LARGEST_BORE_MM:
        line.ask("bore_not_plausible", bore_mm=bore_mm)
    elif root_mm is not None and bore_mm >= root_mm:
        line.ask("bore_beyond_teeth", bore_mm=bore_mm, root_mm=round(root_mm, 2))
    elif (hub_mm := _widest_hub_mm(line)) is not None and bore_mm >= hub_mm:
        line.ask("bore_beyond_hub", bore_mm=bore_mm, hub_diameter_mm=round(hub_mm, 2))
    size = line.value_of("bush_size")
    limits = bush_range_mm(size) if isinstance(size, str) else None
    if limits and not limits[0] - BUSH_SLACK_MM <= bore_mm <= limits[1] + BUSH_SLACK_MM:
        line.ask("bore_not_of_bush", bore_mm=bore_mm, bush_size=str(size))


def _widest_hub_mm(line: TypedLine) -> float | None:
    """Of a hub beside the teeth, which clears the chain."""
    chain, teeth = line.value_of("chain"), line.value_of("teeth")
    if (
        line.value_of("hub_style") not in ("B", "C")
        or not isinstance(chain, str)
        or not isinstance(teeth, int)
    ):
        return None
    return max_hub_diameter_asme_mm(find_chain(chain).pitch_mm, teeth)
