"""Thresholds of the verdict and minutes of shop work: shipped values, which a plant can change."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

from inventory.facts import Fact
from inventory.interchange.findings import WorkStep
from inventory.interchange.vocabulary import Operation
from inventory.standards.sizes import SAME_NOMINAL_TOLERANCE_MM, STORED_DECIMALS, same_nominal


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """Where one outcome ends and the next begins.

    The chain thresholds are this project's screening rule; none is quoted from a standard. The seat diameters they
    are applied to are those of ISO 606.
    """

    pitch_tolerance_mm: float = 0.03
    """More apart is another pitch; neighbouring standard pitches differ by 0.35 mm and more."""
    width_clearance_mm: float = 0.02
    """A tooth that leaves less than this in the chain's inner width does not enter."""
    roller_undersize_poor_share: float = 0.02
    roller_same_share: float = 0.005
    """A roller nearer than this is the same roller; tables of different editions differ by 0.4 %."""
    side_play_normal_share: float = 0.072
    side_play_poor_share: float = 0.10
    side_play_thin_share: float = 0.035
    measuring_uncertainty_mm: float = 0.1
    """How far a calliper in a storeroom may be wrong: two names that are nearer than this are not told apart. Judgement."""
    transverse_pitch_tolerance_mm: float = 0.05
    double_pitch_no_below_teeth: int = 24
    """A single-pitch rim under double-pitch chain: below this the chord is more than 0.86 % short."""
    bore_tolerance_mm: float = SAME_NOMINAL_TOLERANCE_MM
    """Two sizes of bore, shaft or key nearer than this are one nominal size."""
    room_tolerance_mm: float = SAME_NOMINAL_TOLERANCE_MM
    """What a part may exceed its room by: rounding of two recorded sizes."""
    narrow_room_mm: float = 5.0
    """On the diameter: less left under the guard is a caution. Judgement: plates bend and chains sag."""
    wall_over_keyseat_share: float = 0.10
    """Of the bore: least wall over the hub keyseat, never less than the keyseat's own depth. Judgement."""
    bearing_room_share: float = 1.5
    """Of the pin: a smaller hub leaves little room for a bearing. Judgement: a bearing and a wall on either side."""
    idler_least_teeth: int = 17
    """From memory; below it an idler is for review, never refused on this alone."""
    key_pressure_review_mpa: float = 100.0
    """From memory, common practice for steel hubs; above it the key is for review."""
    small_driver_teeth: int = 25
    fast_driver_rpm: float = 600.0
    """From memory: small fast drivers want hardened teeth; review only."""
    heavy_mass_kg: float = 25.0
    """From memory: about what one person lifts; a caution only."""

    def is_same_size(self, one_mm: float, other_mm: float) -> bool:
        return same_nominal(one_mm, other_mm, self.bore_tolerance_mm)

    def is_larger(self, size_mm: float, than_mm: float) -> bool:
        """By more than a nominal size may differ from itself."""
        return size_mm > than_mm and not self.is_same_size(size_mm, than_mm)

    def is_within_room(self, size_mm: float, room_mm: float) -> bool:
        return round(size_mm - room_mm, STORED_DECIMALS) <= self.room_tolerance_mm

    @classmethod
    def with_rules(cls, rules: Mapping[str, float]) -> "Thresholds":
        """The shipped values, replaced by a plant's own where it has some."""
        known = {spec.name: spec.type for spec in fields(cls)}
        unknown = sorted(set(rules) - set(known))
        if unknown:
            raise ValueError(f"`rules` has no threshold {', '.join(unknown)}; there are {', '.join(known)}")
        return cls(**{name: int(value) if known[name] is int else value for name, value in rules.items()})  # type: ignore[arg-type]


RANGES: dict[str, tuple[float, float]] = {
    "_share": (0.0, 2.0),
    "_tolerance_mm": (0.0, 1.0),
    "_mm": (0.0, 50.0),
    "_teeth": (1, 400),
    "_rpm": (0.0, 20_000.0),
    "_mpa": (0.0, 1_000.0),
    "_kg": (0.0, 20_000.0),
}
"""What a threshold may be set to, by the end of its name; beyond it a slip of the pen is more likely."""


def range_of(name: str) -> tuple[float, float]:
    return next(limits for ending, limits in RANGES.items() if name.endswith(ending))


SHIPPED_MINUTES: dict[Operation, int] = {
    Operation.BORE: 30,
    Operation.CUT_KEYSEAT: 30,
    Operation.DRILL_SET_SCREWS: 15,
    Operation.CHANGE_BUSH: 15,
    Operation.FACE_HUB: 20,
    Operation.TURN_HUB: 25,
    Operation.FIT_BEARING: 20,
    Operation.WELD_HUB: 120,
    Operation.FIT_CHAIN: 40,
    Operation.ADJUST_CENTRE: 20,
    Operation.OTHER: 30,
}
"""Estimates from common practice, without a source: a plant replaces them by what it records."""


@dataclass(frozen=True)
class ShopTimes:
    """Minutes per operation."""

    minutes: Mapping[Operation, int] = field(default_factory=lambda: dict(SHIPPED_MINUTES))

    def step(self, operation: Operation, detail: Fact) -> WorkStep:
        return WorkStep(operation=operation, detail=detail, minutes=self.minutes.get(operation))

    def with_recorded(self, recorded: Mapping[str, int]) -> "ShopTimes":
        return ShopTimes({**self.minutes, **{Operation(name): value for name, value in recorded.items()}})


@dataclass(frozen=True, kw_only=True)
class Practice:
    """All that a plant may set: thresholds and shop times, and the joints in one chain beside the one that closes it."""

    thresholds: Thresholds = field(default_factory=Thresholds)
    times: ShopTimes = field(default_factory=ShopTimes)
    chain_joints: int = 0
