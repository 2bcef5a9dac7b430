"""Thresholds of the verdict and minutes of shop work: shipped values, which a plant can change."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from inventory.facts import Fact
from inventory.interchange.findings import TimeBasis, WorkStep
from inventory.interchange.vocabulary import Operation
from inventory.standards.confidence import Estimate, SourceKind, turns_on
from inventory.standards.sizes import SAME_NOMINAL_TOLERANCE_MM, STORED_DECIMALS, same_nominal


def estimated(value: float, *, low: float, high: float, kind: SourceKind) -> Any:
    """A threshold that no source shows, and the span in which it plausibly lies."""
    return field(default=value, metadata={"span": (low, high, kind)})


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """Where one outcome ends and the next begins.

    The chain thresholds are this project's screening rule; none is quoted from a standard. The seat diameters they
    are applied to are those of ISO 606. Between pass and refusal that rule has a band for review, so its limits have no
    plausible error of their own. An estimated threshold decides only outside its span, until the plant states its own value.
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
    """How far a caliper in a storeroom may be wrong: two names that are nearer than this are not told apart. Judgement."""
    transverse_pitch_tolerance_mm: float = 0.05
    double_pitch_no_below_teeth: int = estimated(24, low=6, high=60, kind=SourceKind.MEMORY)
    """A single-pitch rim under double-pitch chain: below this the chord is more than 0.86 % short. Two pages that were read
    contradict each other, so it refuses only where the plant states it."""
    double_pitch_wear_limit_percent: float = estimated(1.5, low=1.0, high=3.0, kind=SourceKind.MEMORY)
    """Elongation of double-pitch chain; 3 % is the limit of every chain."""
    bore_tolerance_mm: float = SAME_NOMINAL_TOLERANCE_MM
    """Two sizes of bore, shaft or key nearer than this are one nominal size."""
    room_tolerance_mm: float = SAME_NOMINAL_TOLERANCE_MM
    """What a part may exceed its room by: rounding of two recorded sizes."""
    narrow_room_mm: float = 5.0
    """On the diameter: less left under the guard is a caution. Judgement: plates bend and chains sag."""
    wall_over_keyseat_share: float = estimated(0.10, low=0.075, high=0.125, kind=SourceKind.JUDGEMENT)
    """Of the bore: least wall over the hub keyseat."""
    wall_over_keyseat_depths: float = estimated(1.0, low=0.75, high=1.25, kind=SourceKind.JUDGEMENT)
    """Of the keyseat's own depth: the wall over it is never less."""
    bearing_room_share: float = estimated(1.5, low=1.3, high=1.8, kind=SourceKind.JUDGEMENT)
    """Of the pin: a smaller hub leaves little room for a bearing and a wall on either side."""
    idler_least_teeth: int = estimated(17, low=15, high=19, kind=SourceKind.MEMORY)
    """Below it an idler is for review, never refused on this alone."""
    key_pressure_review_mpa: float = estimated(100.0, low=90.0, high=120.0, kind=SourceKind.MEMORY)
    """Common practice for steel hubs; above it the key is for review."""
    cast_iron_least_teeth: int = estimated(25, low=20, high=30, kind=SourceKind.JUDGEMENT)
    """Cast iron is for large, slow, steady driven sprockets; the count matches where stock lists end hardening."""
    small_driver_teeth: int = 25
    """Stock lists harden through 25 teeth."""
    fast_driver_rpm: float = estimated(600.0, low=500.0, high=800.0, kind=SourceKind.MEMORY)
    """Small fast drivers want hardened teeth; review only."""
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
    "_percent": (0.0, 10.0),
    "_depths": (0.0, 5.0),
}
"""What a threshold may be set to, by the end of its name; beyond it a typing error is more likely."""


def range_of(name: str) -> tuple[float, float]:
    return next(limits for ending, limits in RANGES.items() if name.endswith(ending))


ESTIMATES = {
    spec.name: Estimate(spec.name, getattr(Thresholds(), spec.name), *spec.metadata["span"])
    for spec in fields(Thresholds)
    if "span" in spec.metadata
}
"""The thresholds that no source shows."""

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
    """Minutes per operation; `recorded` names those that the plant took down, every other is an estimate."""

    minutes: Mapping[Operation, int] = field(default_factory=lambda: dict(SHIPPED_MINUTES))
    recorded: tuple[Operation, ...] = ()

    def step(self, operation: Operation, detail: Fact) -> WorkStep:
        minutes = self.minutes.get(operation)
        basis: TimeBasis = "recorded" if operation in self.recorded else "estimate"
        return WorkStep(
            operation=operation, detail=detail, minutes=minutes, basis=None if minutes is None else basis
        )

    def of_plant(self, times: Mapping[str, tuple[int, str]]) -> "ShopTimes":
        """With the plant's own minutes, each with its basis."""
        minutes = {Operation(name): value for name, (value, _) in times.items()}
        recorded = sorted(Operation(name) for name, (_, basis) in times.items() if basis == "recorded")
        return ShopTimes({**self.minutes, **minutes}, tuple(recorded))


@dataclass(frozen=True, kw_only=True)
class Practice:
    """All that a plant may set: thresholds and shop times, and the joints in one chain beside the one that closes it.

    `stated` names the thresholds that the plant has set itself.
    """

    thresholds: Thresholds = field(default_factory=Thresholds)
    times: ShopTimes = field(default_factory=ShopTimes)
    chain_joints: int = 0
    stated: tuple[str, ...] = ()

    def turns_on(self, decide: Callable[..., object], *names: str) -> tuple[Fact, ...]:
        """The estimated thresholds on which a decision turns; `decide` takes a figure for each name."""
        return turns_on(decide, *(self._estimate(name) for name in names))

    def _estimate(self, name: str) -> Estimate:
        """What the plant states is its own decision, and so is a value that is not the shipped one."""
        shipped, value = ESTIMATES[name], getattr(self.thresholds, name)
        if name in self.stated or value != shipped.value:
            return Estimate(name, value, value, value, shipped.kind)
        return shipped
