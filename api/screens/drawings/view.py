"""One view of a technical drawing: lines by ISO 128, dimensions by ISO 129-1. Lengths in mm; y points down.

Thick outlines, thin dimension and hatching lines, thin dash-dot centre lines, thin dashed outlines of what is replaced. The value
stands above its dimension line, read from below or from the right.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from api.wording.separators import localized

ARROW, GAP, OVER, NEXT_LINE = 0.75, 0.2, 0.35, 1.7
"""Length of an arrow, gap before an extension line, its end beyond the dimension line, distance of dimension lines: in text heights."""

GLYPH_WIDTH = 0.62
TAGS = {
    "hatch": "d-hatch",
    "arrow": "d-arrow",
    "thin": "d-thin",
    "old": "d-old",
    "centre": "d-centre",
    "thick": "d-thick",
}
"""Kinds of line with their classes, in the order in which they are drawn."""


@dataclass(frozen=True)
class DrawnText:
    x: float
    y: float
    text: str
    anchor: str = "middle"
    is_upright: bool = False

    @property
    def turn(self) -> str:
        return f"rotate(-90 {place_on_paper(self.x)} {place_on_paper(self.y)})" if self.is_upright else ""


@dataclass
class View:
    """What the template draws. `text_mm` is the height of the lettering."""

    text_mm: float
    lines: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    labels: list[DrawnText] = field(default_factory=list)
    left: float = 0.0
    top: float = 0.0
    right: float = 0.0
    bottom: float = 0.0

    @property
    def hatch(self) -> float:
        """Distance of the hatching lines."""
        return 0.5 * self.text_mm

    def draw(self, kind: str, path: str) -> None:
        self.lines[kind].append(path)

    def cover(self, x: float, y: float) -> None:
        """Make room for this point."""
        self.left, self.right = min(self.left, x), max(self.right, x)
        self.top, self.bottom = min(self.top, y), max(self.bottom, y)

    @property
    def paths(self) -> Iterable[tuple[str, str]]:
        return ((tag, "".join(self.lines[kind])) for kind, tag in TAGS.items() if self.lines[kind])

    @property
    def width(self) -> float:
        return self.right - self.left + 2 * self.text_mm

    @property
    def height(self) -> float:
        return self.bottom - self.top + 2 * self.text_mm

    @property
    def view_box(self) -> str:
        corner = (self.left - self.text_mm, self.top - self.text_mm, self.width, self.height)
        return " ".join(place_on_paper(part) for part in corner)

    def label(
        self, x: float, y: float, text: str, anchor: str = "middle", *, is_upright: bool = False
    ) -> None:
        self.labels.append(DrawnText(x, y, text, anchor, is_upright))
        long = len(text) * GLYPH_WIDTH * self.text_mm
        before = {"start": 0.0, "middle": long / 2, "end": long}[anchor]
        for along in (-before, long - before):
            self.cover(*((x, y - along) if is_upright else (x + along, y)))
        self.cover(x, y - self.text_mm)

    def along(self, ends: tuple[float, float], start_y: float, y: float, text: str) -> None:
        """A dimension between two places on x, its line at `y` below `start_y`."""
        self._dimension(ends, (start_y, start_y), y, text, is_upright=False)

    def upright(self, ends: tuple[float, float], starts: tuple[float, float], x: float, text: str) -> None:
        """A dimension between two places on y, its line at `x` beside `starts`."""
        self._dimension(ends, starts, x, text, is_upright=True)

    def _dimension(
        self,
        ends: tuple[float, float],
        starts: tuple[float, float],
        at: float,
        text: str,
        *,
        is_upright: bool,
    ) -> None:
        def place(along: float, across: float) -> tuple[float, float]:
            return (across, along) if is_upright else (along, across)

        t, (low, high) = self.text_mm, sorted(ends)
        arrow = ARROW * t
        is_narrow = high - low < 2.5 * arrow
        for end, start in zip(ends, starts, strict=True):
            side = 1 if at > start else -1
            self.draw("thin", _line(place(end, start + side * GAP * t), place(end, at + side * OVER * t)))
            self.cover(*place(end, at + side * OVER * t))
        over = 2 * arrow if is_narrow else 0.0
        self.draw("thin", _line(place(low - over, at), place(high + over, at)))
        for end, into in ((low, 1), (high, -1)):
            back = end + (-into if is_narrow else into) * arrow
            wings = (place(back, at - arrow / 6), place(back, at + arrow / 6))
            self.draw("arrow", _closed((place(end, at), *wings)))
        fits = len(text) * GLYPH_WIDTH * t <= high - low - (0 if is_narrow else arrow)
        if fits:
            anchor, along = "middle", (low + high) / 2
        else:
            along = (low - over) if is_upright else (high + over)
            anchor = "start"
        self.label(*place(along, at - 0.3 * t), text, anchor, is_upright=is_upright)


def _line(start: tuple[float, float], end: tuple[float, float]) -> str:
    return f"M{point(*start)}L{point(*end)}"


def _closed(corners: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(point(*corner) for corner in corners) + "Z"


def point(x: float, y: float) -> str:
    return f"{place_on_paper(x)} {place_on_paper(y)}"


def place_on_paper(value: float) -> str:
    """To a thousandth of a millimetre, as SVG writes it."""
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")


def circle(radius: float) -> str:
    """About the axis."""
    r = place_on_paper(radius)
    return f"M{r} 0A{r} {r} 0 1 1 -{r} 0A{r} {r} 0 1 1 {r} 0Z"


def value(length: float) -> str:
    """A dimension as it is lettered."""
    return localized(f"{length:.3f}".rstrip("0").rstrip("."))


def by_standard(length: float, sign: str = "") -> str:
    """A dimension that is not recorded, in brackets."""
    return f"({sign}{value(round(length, 2))})"


def align(*views: View) -> None:
    """The same room for each, so that they stand level and at one scale."""
    top, bottom = min(view.top for view in views), max(view.bottom for view in views)
    width = max(view.right - view.left for view in views)
    for view in views:
        spare = (width - (view.right - view.left)) / 2
        view.left, view.right, view.top, view.bottom = view.left - spare, view.right + spare, top, bottom
