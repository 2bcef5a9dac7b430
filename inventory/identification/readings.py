"""What was counted and measured on an unknown sprocket, and what cannot be true of one."""

from collections.abc import Iterator
from dataclasses import dataclass, fields

from inventory.facts import Refusal, fact
from inventory.number_checks import positive
from inventory.standards.tooth_counts import counted_teeth, strand_count

LARGEST_MM = 10_000.0
"""No sprocket is larger."""

MEASUREMENTS = (
    "outside_diameter_mm",
    "caliper_diameter_mm",
    "tooth_width_mm",
    "overall_width_mm",
    "chord_mm",
    "hub_diameter_mm",
)
"""Readings that say something about the rim, in the order in which they are taken."""

CHORD_GAPS = 5
"""Over so many gaps a chord is proposed. Judgement."""

SLACK_MM, SLACK_SHARE = 0.4, 0.01
"""Two readings of one length may differ by this much: each is within 0.1 mm by caliper, within 1 mm by tape. Judgement."""


MOST_OVER_ONE_ROW, LEAST_OVER_ROWS = 1.5, 0.8
"""The width over all in widths of one row: over n rows of the tables it is 1.79 n - 0.79 and more. Computed."""


class ContradictoryReadings(Refusal):
    """Two readings cannot be of one sprocket; `field` is the one to take again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Teeth as counted and lengths as read, in mm; None where it was not measured.

    `caliper_diameter_mm` is over the bottoms of the two gaps most nearly opposite, `overall_width_mm` over all rows of teeth, `chord_mm`
    straight from the centre of one gap to that of the gap `chord_gaps` further. `worn`: None where nobody can say.
    """

    teeth: int
    outside_diameter_mm: float | None = None
    caliper_diameter_mm: float | None = None
    tooth_width_mm: float | None = None
    overall_width_mm: float | None = None
    strands: int | None = None
    bore_mm: float | None = None
    keyway_width_mm: float | None = None
    hub_diameter_mm: float | None = None
    chord_mm: float | None = None
    chord_gaps: int | None = None
    worn: bool | None = None

    def __post_init__(self) -> None:
        counted_teeth("teeth", self.teeth)
        if self.strands is not None:
            strand_count("strands", self.strands)
        for one in fields(self):
            value = getattr(self, one.name)
            if one.name.endswith("_mm") and value is not None:
                positive(one.name, value, most=LARGEST_MM)
        self._check_chord()
        for larger, smaller in ORDERED:
            self._refuse_smaller(larger, smaller)
        self._check_rows()

    def _check_chord(self) -> None:
        if (self.chord_mm is None) != (self.chord_gaps is None):
            missing = "chord_gaps" if self.chord_gaps is None else "chord_mm"
            raise Refusal(fact("chord_needs_both"), field=missing)
        if self.chord_gaps is not None and not 1 <= self.chord_gaps <= self.teeth // 2:
            most = self.teeth // 2
            raise Refusal(fact("chord_gaps_beyond_half", gaps=self.chord_gaps, most=most), field="chord_gaps")

    def _refuse_smaller(self, larger: str, smaller: str) -> None:
        one, other = getattr(self, larger), getattr(self, smaller)
        if one is not None and other is not None and one < other - SLACK_MM - SLACK_SHARE * other:
            raise ContradictoryReadings(
                fact(
                    "reading_smaller_than_other",
                    reading=larger,
                    reading_mm=one,
                    other=smaller,
                    other_mm=other,
                ),
                field=larger,
            )

    def _check_rows(self) -> None:
        if self.strands is None or self.overall_width_mm is None or self.tooth_width_mm is None:
            return
        in_teeth = self.overall_width_mm / self.tooth_width_mm
        if (self.strands == 1 and in_teeth > MOST_OVER_ONE_ROW) or in_teeth < self.strands * LEAST_OVER_ROWS:
            contradiction = fact(
                "width_contradicts_rows",
                strands=self.strands,
                overall_width_mm=self.overall_width_mm,
                tooth_width_mm=self.tooth_width_mm,
            )
            raise ContradictoryReadings(contradiction, field="overall_width_mm")

    @property
    def gaps_over_chord(self) -> int:
        """Over so many gaps the chord was, or would be, taken: an error of the reading is divided among them."""
        return self.chord_gaps or min(CHORD_GAPS, self.teeth // 2)

    def taken(self) -> Iterator[tuple[str, float]]:
        """The measurements that say something about the rim."""
        for name in MEASUREMENTS:
            if (value := getattr(self, name)) is not None:
                yield name, value


ORDERED = (
    ("outside_diameter_mm", "caliper_diameter_mm"),
    ("overall_width_mm", "tooth_width_mm"),
    ("outside_diameter_mm", "chord_mm"),
    ("outside_diameter_mm", "hub_diameter_mm"),
    ("outside_diameter_mm", "bore_mm"),
    ("caliper_diameter_mm", "bore_mm"),
    ("hub_diameter_mm", "bore_mm"),
    ("bore_mm", "keyway_width_mm"),
)
"""The first is never smaller than the second on one sprocket."""
