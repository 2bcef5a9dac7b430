"""The two views of a sprocket, dimensioned; what is replaced lies under them in thin dashes."""

from collections.abc import Iterable

from api.screens.drawings.sprocket import BUSHED, DrawnSprocket, bore_path, half_section, rim_path
from api.screens.drawings.view import (
    NEXT_LINE,
    View,
    align,
    by_standard,
    circle,
    place_on_paper,
    point,
    value,
)

TEXT_SHARE = 1 / 18
"""Height of the lettering, as a share of the outside diameter."""

Lengths = tuple[float, float]


def views_of(drawn: DrawnSprocket, old: DrawnSprocket | None = None) -> tuple[View, View | None]:
    """From the front, and through the axis where the width over the rows is known."""
    front, section = _front_view(drawn, old), _section_view(drawn, old)
    if section is not None:
        align(front, section)
    return front, section


def _front_view(drawn: DrawnSprocket, old: DrawnSprocket | None) -> View:
    tip = drawn.tip_radius_mm
    view = View(text_mm=2 * tip * TEXT_SHARE)
    for part in (drawn, *([old] if old else [])):
        kind = "thick" if part is drawn else "old"
        for path in _front_outlines(part):
            view.draw(kind, path)
        view.cover(-part.tip_radius_mm, -part.tip_radius_mm)
        view.cover(part.tip_radius_mm, part.tip_radius_mm)
    view.draw("centre", circle(drawn.form.pitch_diameter_mm / 2))
    over = tip + 0.6 * view.text_mm
    view.draw("centre", f"M{point(-over, 0)}H{place_on_paper(over)}M{point(0, -over)}V{place_on_paper(over)}")
    view.cover(-over, -over)
    view.cover(over, over)
    _keyway_note(view, drawn)
    return view


def _front_outlines(part: DrawnSprocket) -> Iterable[str]:
    yield rim_path(part.gap)
    if part.hub_mm is not None:
        yield circle(part.hub_mm / 2)
    yield bore_path(part)


def _keyway_note(view: View, drawn: DrawnSprocket) -> None:
    """Width and depth on a leader from the side of the keyway."""
    if drawn.keyway is None:
        return
    (width, floor), t = drawn.keyway, view.text_mm
    top = -drawn.tip_radius_mm - 1.2 * t
    text = f"{value(width)} × {value(drawn.part.keyway_depth_mm or 0.0)}"
    start, turn = (width / 2, -floor), (width / 2 + 0.6 * drawn.tip_radius_mm, top)
    view.draw("thin", f"M{point(*start)}L{point(*turn)}H{place_on_paper(turn[0] + 0.4 * t)}")
    view.label(turn[0] + 0.6 * t, top + 0.35 * t, text, "start")


def _section_view(drawn: DrawnSprocket, old: DrawnSprocket | None) -> View | None:
    if drawn.rim_mm is None:
        return None
    view = View(text_mm=2 * drawn.tip_radius_mm * TEXT_SHARE)
    _section_outlines(view, drawn, "thick")
    if old is not None and old.rim_mm is not None:
        _section_outlines(view, old, "old")
    left, right = _sides(drawn)
    over = 0.8 * view.text_mm
    view.draw("centre", f"M{point(left - over, 0)}H{place_on_paper(right + over)}")
    view.cover(left - over, 0)
    view.cover(right + over, 0)
    for side in (-1, 1):
        y = side * drawn.form.pitch_diameter_mm / 2
        view.draw("centre", f"M{point(-over, y)}H{place_on_paper(drawn.rim_mm + over)}")
    _diameters(view, drawn)
    _widths(view, drawn)
    return view


def _sides(part: DrawnSprocket) -> Lengths:
    left, right = part.hub_ends_mm
    return -left, (part.rim_mm or 0.0) + right


def _section_outlines(view: View, part: DrawnSprocket, kind: str) -> None:
    """Teeth are not hatched, as in any section of a toothed wheel (ISO 2203)."""
    left, right = _sides(part)
    bore = (part.bore_mm or 0.0) / 2
    floor = part.keyway[1] if part.keyway else bore
    for inner, side in ((floor, -1), (bore, 1)):
        view.draw(kind, _half(part, inner, part.tip_radius_mm, side))
        if kind == "thick":
            below_teeth = _half(part, inner, part.form.root_diameter_mm / 2, side)
            view.draw("hatch", below_teeth)
            view.draw("thick", below_teeth)
    for x in (left, right):
        view.draw(kind, f"M{point(x, -floor)}V{place_on_paper(bore)}")
    if part.keyway:
        view.draw(kind, f"M{point(left, -part.keyway_side_mm)}H{place_on_paper(right)}")
    view.cover(left, -part.tip_radius_mm)
    view.cover(right, part.tip_radius_mm)


def _half(part: DrawnSprocket, inner: float, outer: float, side: int) -> str:
    return "M" + "L".join(point(x, side * y) for x, y in half_section(part, inner, outer)) + "Z"


def _diameters(view: View, drawn: DrawnSprocket) -> None:
    """Those of the rim on its left, hub and bore on the right; the smallest stands nearest."""
    rim, part, t = drawn.rim_mm or 0.0, drawn.part, view.text_mm
    left, right = _sides(drawn)
    outside = 2 * drawn.tip_radius_mm
    on_the_left = [
        (drawn.form.root_diameter_mm, by_standard(drawn.form.root_diameter_mm, "⌀")),
        (drawn.form.pitch_diameter_mm, by_standard(drawn.form.pitch_diameter_mm, "⌀")),
        (outside, f"⌀{value(outside)}" if part.outside_diameter_mm else by_standard(outside, "⌀")),
    ]
    for number, (diameter, text) in enumerate(on_the_left, 1):
        x = min(left, 0.0) - NEXT_LINE * number * t
        view.upright((-diameter / 2, diameter / 2), (0.0, 0.0), x, text)
    on_the_right = [(drawn.bore_mm, right)] if drawn.bore_mm is not None else []
    if drawn.hub_mm is not None and any(drawn.hub_ends_mm):
        on_the_right.append((drawn.hub_mm, right))
    for number, (diameter, start) in enumerate(on_the_right, 1):
        is_of_bush = diameter == drawn.bore_mm and part.bore_type in BUSHED
        text = by_standard(diameter, "⌀") if is_of_bush else f"⌀{value(diameter)}"
        x = max(right, rim) + NEXT_LINE * number * t
        view.upright((-diameter / 2, diameter / 2), (start, start), x, text)


def _widths(view: View, drawn: DrawnSprocket) -> None:
    """One row, all rows, and the length through the bore, each below the other."""
    rim, t = drawn.rim_mm or 0.0, view.text_mm
    left, right = _sides(drawn)
    row = drawn.row_mm
    lines = [((0.0, row), value(row) if drawn.part.tooth_width_mm else by_standard(row))]
    if drawn.form.strands > 1:
        lines.append(((0.0, rim), by_standard(rim)))
    if drawn.part.length_through_bore_mm is not None and (any(drawn.hub_ends_mm) or right - left == rim):
        lines.append(((left, right), value(drawn.part.length_through_bore_mm)))
    for number, (ends, text) in enumerate(lines, 1):
        view.along(ends, drawn.tip_radius_mm, drawn.tip_radius_mm + NEXT_LINE * number * t, text)
