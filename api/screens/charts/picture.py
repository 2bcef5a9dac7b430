"""A chart as it is drawn: the axes with their units, what decides in words above the plot, and the paths of the data.

In units of the drawing; y points down. Every text has a place of its own: the unit of the upright axis and the notes stand in
rows above the plot, the labels and the unit of the level axis in rows below it, so that no text lies on a line or on another text.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from api.screens.charts.lettering import BETWEEN_LABELS, TEXT_SIZE, ChartText, text_width, thinned
from api.screens.charts.scale import Scale

WIDTH, PLOT_HEIGHT = 360.0, 130.0
EDGE, ROW, GAP = 2.0, 19.0, 6.0
ABOVE_PLOT, LEAST_MARGIN = 10.0, 8.0
SIGN = 5.0
"""Half the size of the sign before a note."""
LAYERS = (
    "grid",
    "band",
    "unplanned",
    "planned",
    "limit",
    "axis",
    "line",
    "trail",
    "law",
    "range",
    "spot",
    "tick",
    "age",
    "cross",
)
"""Kinds of path in the order in which they are drawn; a kind may say on what it lies, as `cross on-planned`."""


@dataclass(frozen=True)
class Axis:
    """`title` names what is counted, with its unit; labels are the ticks, or other values with their texts."""

    scale: Scale
    title: str
    labels: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Note:
    """ChartText in the picture: what decides. At a value of the level axis they stand on a line down to it."""

    text: str
    at: float | None = None
    sign: str = ""
    """Kind of the point that it names."""
    is_main: bool = True


@dataclass
class Picture:
    level: Axis
    upright: Axis
    notes: Sequence[Note] = ()
    headroom: float = 0.0
    """Room over the highest value, for words on bars."""
    below: float = 0.0
    """Room under the level axis, for signs that hang on it."""
    layers: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    words: list[ChartText] = field(default_factory=list)

    def __post_init__(self) -> None:
        rows = 1 + len(self.notes)
        self.top = EDGE + ROW * rows + ABOVE_PLOT + self.headroom
        self.base = self.top + PLOT_HEIGHT
        self.label_y = self.base + self.below + TEXT_SIZE + 9
        self.height = self.label_y + (ROW if self.level.title else 0.0) + GAP
        ends = [text_width(text) / 2 for _value, text in (self.level.labels[:1] + self.level.labels[-1:])]
        beside = max((text_width(text) for _value, text in self.upright.labels), default=0.0) + GAP
        self.left = EDGE + max(beside, LEAST_MARGIN)
        self.right = WIDTH - EDGE - max(ends[-1] if ends else 0.0, LEAST_MARGIN)
        self._axes()
        for row, note in enumerate(self.notes):
            self._note(note, EDGE + ROW * (row + 2) - GAP / 2)

    @property
    def view_box(self) -> str:
        return f"0 0 {WIDTH:g} {self.height:g}"

    @property
    def paths(self) -> Iterable[tuple[str, str]]:
        def place(kind: str) -> int:
            return LAYERS.index(kind.partition(" ")[0])

        for kind in sorted(self.layers, key=place):
            yield " ".join(f"c-{part}" for part in kind.split()), "".join(self.layers[kind])

    def x(self, value: float) -> float:
        return self.left + (self.right - self.left) * self.level.scale.share(value)

    def y(self, value: float) -> float:
        return self.base - (self.base - self.top) * self.upright.scale.share(value)

    def draw(self, kind: str, path: str) -> None:
        if path:
            self.layers[kind].append(path)

    def bar(self, kind: str, middle: float, width: float, low: float, high: float, gap: float = 0.0) -> None:
        """`middle`, `low` and `high` are values, `width` and `gap` units of the drawing."""
        top, foot = self.y(high) + gap, self.y(low)
        left = self.x(middle) - width / 2
        self.draw(kind, f"M{left:.1f} {top:.1f}h{width:.1f}V{max(foot, top + 0.5):.1f}h{-width:.1f}z")

    def level_bar(self, kind: str, middle: float, height: float, high: float) -> None:
        """From the upright axis to a value of the level one; `middle` is a value, `height` units of the drawing."""
        top, length = self.y(middle) - height / 2, max(self.x(high) - self.left, 0.5)
        self.draw(kind, f"M{self.left:.1f} {top:.1f}h{length:.1f}v{height:.1f}h{-length:.1f}z")

    def bar_width(self, slots: int, share: float = 0.72, widest: float = 44.0) -> float:
        return min((self.right - self.left) / slots * share, widest)

    def over_bars(self, labels: Sequence[tuple[float, float, str]]) -> None:
        """The value of each bar over it, where all of them have room beside each other; else the axis alone says it."""
        room = (self.right - self.left) / max(len(self.level.scale.ticks), 1) - BETWEEN_LABELS / 2
        if all(text_width(text) <= room for _at, _value, text in labels):
            self.words += [ChartText(self.x(at), self.y(value) - 4, text) for at, value, text in labels]

    def stairs(self, points: Iterable[tuple[float, float]]) -> str:
        """Level to each value, then up or down to it."""
        (x, y), *others = [(self.x(at), self.y(value)) for at, value in points]
        return f"M{x:.1f} {y:.1f}" + "".join(f"H{x:.1f}V{y:.1f}" for x, y in others)

    def _axes(self) -> None:
        self.draw("axis", f"M{self.left:.1f} {self.base:.1f}H{self.right:.1f}")
        self.words.append(ChartText(EDGE, EDGE + TEXT_SIZE, self.upright.title, "start", "soft"))
        if self.level.title:
            self.words.append(ChartText(self.right, self.label_y + ROW, self.level.title, "end", "soft"))
        for value in self.upright.scale.ticks:
            if self.y(value) < self.base - 0.5:
                self.draw("grid", f"M{self.left:.1f} {self.y(value):.1f}H{self.right:.1f}")
        upright = self.upright.labels
        for place in thinned([self.y(value) for value, _text in upright], [TEXT_SIZE / 2] * len(upright)):
            value, text = upright[place]
            self.words.append(ChartText(self.left - GAP, self.y(value) + TEXT_SIZE / 3, text, "end", "soft"))
        level = self.level.labels
        widths = [text_width(text) for _value, text in level]
        for place in thinned([self.x(value) for value, _text in level], widths):
            value, text = level[place]
            x = max(self.x(value), EDGE + widths[place] / 2)
            self.words.append(ChartText(x, self.label_y, text, "middle", "soft"))

    def _note(self, note: Note, y: float) -> None:
        kind = "strong" if note.is_main else ""
        width = text_width(note.text, is_bold=note.is_main)
        if note.at is None:
            start = self.left + (2 * SIGN + GAP if note.sign else 0.0)
            start = max(min(start, WIDTH - EDGE - width), EDGE)
            if note.sign:
                self.draw(note.sign, point_sign(note.sign, start - SIGN - GAP, y - TEXT_SIZE / 3))
            self.words.append(ChartText(start, y, note.text, "start", kind))
            return
        x = self.x(note.at)
        self.draw("limit", f"M{x:.1f} {y + 4:.1f}V{self.base:.1f}")
        start = max(min(x - width / 2, WIDTH - EDGE - width), EDGE)
        self.words.append(ChartText(start, y, note.text, "start", kind))


def point_sign(kind: str, x: float, y: float) -> str:
    """A filled disc, or a cross."""
    if kind == "tick":
        return f"M{x - SIGN:.1f} {y - SIGN:.1f}l{2 * SIGN:g} {2 * SIGN:g}m0 {-2 * SIGN:g}l{-2 * SIGN:g} {2 * SIGN:g}"
    return f"M{x - SIGN + 1:.1f} {y:.1f}a{SIGN - 1:g} {SIGN - 1:g} 0 1 0 {2 * SIGN - 2:g} 0a{SIGN - 1:g} {SIGN - 1:g} 0 1 0 {2 - 2 * SIGN:g} 0z"
