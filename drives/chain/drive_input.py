"""A two-sprocket drive as it is given, and the answer to it."""

from dataclasses import dataclass

from drives.chain.lubrication import LubricationClass, class_of
from drives.chain.rating import RatingLimit
from inventory.facts import Fact
from inventory.number_checks import LARGEST_QUANTITY, number, quantity, whole
from inventory.standards.chains import Chain
from inventory.standards.tooth_counts import DRIVE_TEETH, drive_teeth


@dataclass(frozen=True, kw_only=True)
class DriveInput:
    """A drive to be calculated: exactly one of `links` and `centre_distance_mm`. Every number is checked here.

    Teeth of a double-pitch drive are counted on the rim where `double_cut` is true, and are effective teeth otherwise.
    """

    chain: Chain
    driver_teeth: float
    driven_teeth: float
    strands: int = 1
    driver_speed_rpm: float | None = None
    power_kw: float | None = None
    service_factor: float | None = None
    links: int | None = None
    centre_distance_mm: float | None = None
    lubrication: str | None = None
    double_cut: bool = False
    fixed_centres: bool = False
    parallel_chains: bool = False

    def __post_init__(self) -> None:
        for name in ("driver_speed_rpm", "power_kw", "service_factor", "centre_distance_mm"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, quantity(name, getattr(self, name)))
        object.__setattr__(self, "strands", whole("strands", self.strands, least=1, most=LARGEST_QUANTITY))
        if self.links is not None:
            object.__setattr__(self, "links", whole("links", self.links, least=1, most=LARGEST_QUANTITY))
        if (self.links is None) == (self.centre_distance_mm is None):
            raise ValueError("`links` or `centre_distance_mm` must be given, and not both.")
        if self.lubrication is not None:
            object.__setattr__(self, "lubrication", class_of(self.lubrication))
        self._check_teeth()

    def _check_teeth(self) -> None:
        if self.double_cut and not self.chain.is_double_pitch:
            raise ValueError("`double_cut` must be false for a chain that is not of double pitch.")
        least, most = DRIVE_TEETH
        for name in ("driver_teeth", "driven_teeth"):
            teeth = drive_teeth(name, getattr(self, name))
            if not teeth.is_integer() and (self.double_cut or not self.chain.is_double_pitch):
                raise ValueError(f"`{name}` must be a whole number of teeth, not {teeth:g}.")
            if self.double_cut:
                number(name, teeth, least=2 * least, most=most)
            object.__setattr__(self, name, teeth)

    @property
    def driver_effective_teeth(self) -> float:
        return self.driver_teeth / 2 if self.double_cut else self.driver_teeth

    @property
    def driven_effective_teeth(self) -> float:
        return self.driven_teeth / 2 if self.double_cut else self.driven_teeth

    @property
    def small_teeth(self) -> float:
        return min(self.driver_effective_teeth, self.driven_effective_teeth)

    @property
    def large_teeth(self) -> float:
        return max(self.driver_effective_teeth, self.driven_effective_teeth)

    @property
    def small_speed_rpm(self) -> float | None:
        """Speed of the smaller sprocket, which the ratings are printed for."""
        if self.driver_speed_rpm is None:
            return None
        return self.driver_speed_rpm * self.driver_effective_teeth / self.small_teeth


@dataclass(frozen=True, kw_only=True)
class DriveResult:
    """The answer; what could not be calculated is None, and `advice` says why.

    `links` is even and `centre_distance_mm` belongs to it; `links_exact` is the length at the centre that was given,
    or the links that were given.
    """

    ratio: float
    driven_speed_rpm: float | None
    chain_speed_m_s: float | None
    links_exact: float
    links: int
    centre_distance_mm: float
    wrap_driver_deg: float
    rated_power_kw: float | None
    limited_by: RatingLimit | None
    generation: str
    rating_confidence: str
    design_power_kw: float | None
    utilisation: float | None
    tight_side_tension_n: float | None
    lubrication_class: LubricationClass | None
    wear_limit_percent: float
    advice: tuple[Fact, ...] = ()
