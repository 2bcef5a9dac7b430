"""What a drive requires of the sprocket on it, beyond its shape."""

from dataclasses import dataclass, replace

from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import PositionRole
from inventory.number_checks import positive
from inventory.standards.tooth_counts import counted_teeth

SHOCK_SERVICE_FACTOR = 1.3
"""From moderate shock on, electric motor (The Complete Guide to Chain, table 4.2)."""


@dataclass(frozen=True, kw_only=True)
class Duty:
    """The drive around a position; `None` where not known. `speed_rpm` is the driver's, whichever sprocket is judged."""

    power_kw: float | None = None
    speed_rpm: float | None = None
    service_factor: float | None = None
    mating_teeth: int | None = None
    teeth_before: tuple[float, float] | None = None
    """Effective teeth of driver and driven until now, where both are changed."""
    centre_distance_mm: float | None = None
    links: int | None = None
    centre_adjustment_mm: tuple[float, float] | None = None
    fixed_centres: bool | None = None
    ratio_tolerance_percent: float | None = None
    lifting: bool | None = None
    elongation_percent: float | None = None

    def __post_init__(self) -> None:
        for name in ("power_kw", "speed_rpm", "service_factor", "centre_distance_mm"):
            value = getattr(self, name)
            if value is not None:
                positive(name, value)
        if self.mating_teeth is not None:
            counted_teeth("mating_teeth", self.mating_teeth)

    @property
    def adjustment_mm(self) -> tuple[float, float] | None:
        if self.centre_adjustment_mm is None and self.fixed_centres:
            return (0.0, 0.0)
        return self.centre_adjustment_mm


@dataclass(frozen=True, kw_only=True)
class PlacedPart:
    """A candidate on a position: what the position requires, its duty, and the practice of the plant."""

    required: Requirement
    duty: Duty
    offered: Sprocket
    practice: Practice

    @property
    def old_teeth(self) -> float | None:
        return self.required.effective_teeth

    @property
    def new_teeth(self) -> float | None:
        return self.offered.effective_teeth_under(self.required.chain)

    @property
    def is_driven(self) -> bool:
        return self.required.role is PositionRole.DRIVEN

    def driver_driven(self, own_teeth: float) -> tuple[float, float] | None:
        """Teeth of driver and driven with this sprocket at `own_teeth`; None where the mating sprocket is not known."""
        mate = self.duty.mating_teeth
        if mate is None:
            return None
        return (float(mate), own_teeth) if self.is_driven else (own_teeth, float(mate))

    @property
    def driver_driven_before(self) -> tuple[float, float] | None:
        """The teeth on which the drive carried its load until now."""
        if self.duty.teeth_before is not None:
            return self.duty.teeth_before
        return None if self.old_teeth is None else self.driver_driven(self.old_teeth)


def with_shock(required: Requirement, duty: Duty) -> Requirement:
    """A service factor from moderate shock on says that the load is a shock load, where nothing else does."""
    if required.is_shock_loaded is not None or duty.service_factor is None:
        return required
    return replace(required, is_shock_loaded=duty.service_factor >= SHOCK_SERVICE_FACTOR)
