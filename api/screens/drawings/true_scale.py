"""What is printed at full size: the template of a sprocket, the wear strip of a chain, and the rule that proves the scale.

One unit of a drawing is one millimetre of the paper; the sheets fit A4 with margins of 10 mm.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product
from math import ceil, floor, hypot
from string import ascii_uppercase

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.screens.drawings.sprocket import DrawnSprocket, bore_path, drawn_sprocket, rim_path
from api.screens.drawings.view import DrawnText, circle, place_on_paper, value
from api.screens.visible_record import visible_or_404
from drives.lessons.wear_notice import wear_limit_percent
from drives.models import Drive
from inventory.catalogue.core_values import engagement_of
from inventory.interchange.requirement import Engagement
from inventory.models import Item
from inventory.standards.chains import UnknownChain, find_chain
from inventory.standards.rim_outline import largest_gap
from inventory.standards.sizes import MM_PER_INCH

WINDOW_MM = 190
"""Side of the square in which a template is drawn."""

ROOM_MM = 2
OVERLAP_MM = 10
STEP_MM = WINDOW_MM - OVERLAP_MM
"""Of sheets that are joined: how much two of them show alike, and how far one is from the next."""

RULE_MM, RULE_INCHES = 150, 6
STRIP_MM = 250
"""Longest strip, on A4 lying."""

MOST_PERCENT = 3
STEPS_OF_PERCENT = 2


@dataclass(frozen=True)
class ScaleRule:
    """Millimetres above the line, inches below it, from zero."""

    @property
    def ticks(self) -> str:
        mm = (f"M{x} 0V{-(5 if x % 10 == 0 else 3.5 if x % 5 == 0 else 2)}" for x in range(RULE_MM + 1))
        eighths = (
            f"M{place_on_paper(n * MM_PER_INCH / 8)} 0V{5 if n % 8 == 0 else 3.5 if n % 4 == 0 else 2}"
            for n in range(8 * RULE_INCHES + 1)
        )
        return f"M0 0H{place_on_paper(RULE_INCHES * MM_PER_INCH)}" + "".join((*mm, *eighths))

    @property
    def labels(self) -> Iterable[DrawnText]:
        yield from (
            DrawnText(x, -6, f"{x} mm" if x == RULE_MM else f"{x}") for x in range(0, RULE_MM + 1, 50)
        )
        for inch in range(1, RULE_INCHES + 1):
            yield DrawnText(inch * MM_PER_INCH, 8.5, f"{inch} in" if inch == RULE_INCHES else f"{inch}")


@dataclass(frozen=True)
class TemplateSheet:
    """What one sheet shows: a window of the drawing from this corner on, and where it joins its neighbours."""

    left: float
    top: float
    name: str = ""
    joins: str = ""
    has_rim: bool = True

    @property
    def window(self) -> str:
        return f"{place_on_paper(self.left)} {place_on_paper(self.top)} {WINDOW_MM} {WINDOW_MM}"


@dataclass(frozen=True)
class Template:
    """A new tooth lies between the two outlines of a rim, that of the most metal and that of the least."""

    drawn: DrawnSprocket
    is_whole: bool = False
    """All of a rim that is larger than the sheet, on sheets to join."""

    @property
    def is_larger_than_sheet(self) -> bool:
        return 2 * self.drawn.tip_radius_mm > WINDOW_MM - 2 * ROOM_MM

    @property
    def sheets(self) -> list[TemplateSheet]:
        """All of it, or the top of the rim and then the middle, or as many as it takes."""
        middle = -WINDOW_MM / 2
        if not self.is_larger_than_sheet:
            return [TemplateSheet(middle, middle)]
        if self.is_whole:
            return list(self.tiles)
        return [
            TemplateSheet(middle, -self.drawn.tip_radius_mm - ROOM_MM),
            TemplateSheet(middle, middle, has_rim=False),
        ]

    @property
    def tiles(self) -> Iterator[TemplateSheet]:
        """Row A is the upper one; a sheet that nothing of the rim lies on is left out."""
        side = self.tiles_a_side
        start = -(side * STEP_MM + OVERLAP_MM) / 2
        for row, column in product(range(side), repeat=2):
            left, top = start + column * STEP_MM, start + row * STEP_MM
            nearest = hypot(*(max(low, -low - WINDOW_MM, 0.0) for low in (left, top)))
            if nearest <= self.drawn.tip_radius_mm:
                joins = [*_joins(left, column, side, top, "V"), *_joins(top, row, side, left, "H")]
                yield TemplateSheet(left, top, f"{ascii_uppercase[row]}{column + 1}", "".join(joins))

    @property
    def tiles_a_side(self) -> int:
        return ceil((2 * (self.drawn.tip_radius_mm + ROOM_MM) - OVERLAP_MM) / STEP_MM)

    @property
    def most(self) -> str:
        return rim_path(self.drawn.gap)

    @property
    def least(self) -> str:
        return rim_path(largest_gap(self.drawn.form))

    @property
    def middle(self) -> str:
        """Hub and bore."""
        hub = circle(self.drawn.hub_mm / 2) if self.drawn.hub_mm is not None else ""
        return hub + bore_path(self.drawn)

    @property
    def axes(self) -> str:
        """The pitch circle, and the two axes."""
        over = place_on_paper(self.drawn.tip_radius_mm + ROOM_MM)
        return circle(self.drawn.form.pitch_diameter_mm / 2) + f"M-{over} 0H{over}M0 -{over}V{over}"

    @property
    def outside_diameter(self) -> str:
        return value(round(2 * self.drawn.tip_radius_mm, 2))


def _joins(start: float, number: int, side: int, across: float, kind: str) -> Iterator[str]:
    """The middle of what a sheet and its neighbour both show: the line of one is laid on that of the other."""
    places = [(number > 0, OVERLAP_MM / 2), (number < side - 1, WINDOW_MM - OVERLAP_MM / 2)]
    for has_neighbour, place in places:
        if has_neighbour:
            low, high, at = place_on_paper(across), place_on_paper(across + WINDOW_MM), start + place
            corner = f"{place_on_paper(at)} {low}" if kind == "V" else f"{low} {place_on_paper(at)}"
            yield f"M{corner}{kind}{high}"


@dataclass(frozen=True)
class WearMark:
    percent: float
    x: float

    @property
    def is_whole(self) -> bool:
        return self.percent == int(self.percent)

    @property
    def top(self) -> float:
        """Each is lower than the one before, so that the leaders to the values do not cross them."""
        return 4 * self.percent - 24 if self.is_whole else -8.0

    @property
    def text(self) -> str:
        return f"{value(self.percent)} %"


@dataclass(frozen=True)
class WearStrip:
    """`links` of a chain from pin to pin: an even number, so that a wide and a narrow link are measured alike."""

    pitch_mm: float
    roller_diameter_mm: float
    links: int
    limit_percent: float | None

    def at(self, percent: float) -> float:
        return self.links * self.pitch_mm * (1 + percent / 100)

    @property
    def marks(self) -> list[WearMark]:
        steps = range(MOST_PERCENT * STEPS_OF_PERCENT + 1)
        return [WearMark(n / STEPS_OF_PERCENT, self.at(n / STEPS_OF_PERCENT)) for n in steps]

    @property
    def limit(self) -> WearMark | None:
        return WearMark(self.limit_percent, self.at(self.limit_percent)) if self.limit_percent else None

    @property
    def pins(self) -> list[float]:
        return [link * self.pitch_mm for link in range(self.links + 1)]

    @property
    def values_x(self) -> float:
        return self.at(MOST_PERCENT) + 3

    @property
    def radius_mm(self) -> float:
        return self.roller_diameter_mm / 2

    @property
    def new_length(self) -> str:
        return value(round(self.at(0), 2))


def wear_strip_of(chain: Engagement, limit_percent: float | None) -> WearStrip | None:
    """As many links as fit; None for a pitch of which no two links do."""
    longest = chain.pitch_mm * (1 + MOST_PERCENT / 100)
    links = 2 * floor(STRIP_MM / longest / 2)
    return WearStrip(chain.pitch_mm, chain.roller_diameter_mm, links, limit_percent) if links else None


@require_safe
@login_required
def template(request: HttpRequest, number: str) -> HttpResponse:
    part = visible_or_404(Item.objects.select_related("specification"), "stock_number", number)
    drawn = drawn_sprocket(part.specification)
    if drawn is None:
        raise Http404
    context = {
        "part": part,
        "drawn": drawn,
        "template": Template(drawn, request.GET.get("all") == "1"),
        "rule": ScaleRule(),
    }
    return render(request, "screens/template.html", context)


@require_safe
@login_required
def drive_wear_strip(request: HttpRequest, tag: str) -> HttpResponse:
    record = visible_or_404(Drive.objects.prefetch_related("positions"), "tag", tag)
    chain = engagement_of(record)
    if chain is None:
        raise Http404
    limit = wear_limit_percent(record)
    return _strip_page(request, chain, {"drive": record}, limit)


@require_safe
@login_required
def chain_wear_strip(request: HttpRequest, designation: str) -> HttpResponse:
    try:
        chain = Engagement.of(find_chain(designation))
    except UnknownChain as unknown:
        raise Http404 from unknown
    return _strip_page(request, chain, {}, None)


def _strip_page(
    request: HttpRequest, chain: Engagement, context: dict[str, object], limit: float | None
) -> HttpResponse:
    strip = wear_strip_of(chain, limit)
    if strip is None:
        raise Http404
    return render(
        request, "screens/wear_strip.html", {**context, "chain": chain, "strip": strip, "rule": ScaleRule()}
    )
