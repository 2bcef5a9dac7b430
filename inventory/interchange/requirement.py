"""What a position requires and what a sprocket offers. Lengths in mm, plain floats, `None` where not known."""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace
from functools import cache

from inventory.interchange.vocabulary import (
    BoreType,
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    RoleKind,
    ShaftKind,
)
from inventory.number_checks import positive
from inventory.standards.chains import Chain
from inventory.standards.confidence import Estimate, SourceKind
from inventory.standards.tooth_counts import counted_teeth, strand_count
from inventory.standards.tooth_formulas import tooth_width_mm


class _CheckedSizes:
    """A size that is not a finite positive number never enters the core."""

    def __post_init__(self) -> None:
        of: type = type(self)
        for name in _sizes_of(of):
            size = getattr(self, name)
            if size is not None:
                positive(name, size)


@cache
def _sizes_of(of: type) -> tuple[str, ...]:
    return tuple(spec.name for spec in fields(of) if spec.name.endswith("_mm"))


def _refuse_bad_counts(teeth: int | None, strands: int | None) -> None:
    if teeth is not None:
        counted_teeth("teeth", teeth)
    if strands is not None:
        strand_count("strands", strands)


@dataclass(frozen=True, kw_only=True)
class Engagement(_CheckedSizes):
    """The dimensions by which a chain and a rim fit, of a designated chain or of one outside any standard."""

    pitch_mm: float
    roller_diameter_mm: float
    inner_width_mm: float
    transverse_pitch_mm: float | None = None
    plate_height_mm: float | None = None
    designation: str | None = None
    is_double_pitch: bool = False
    has_large_rollers: bool = False
    tooth_width_mm: float | None = None
    """None where one row of teeth has the width of ISO 606."""
    estimates: tuple[Estimate, ...] = ()
    """Dimensions that no source shows, or on which the sources disagree."""
    source: str | None = None
    """None where the dimensions stand in the record alone."""

    @classmethod
    def of(cls, chain: Chain) -> "Engagement":
        """Of a designated chain; its dimensions that were never seen in a source are estimates."""
        engagement = cls(
            pitch_mm=chain.pitch_mm,
            roller_diameter_mm=chain.roller_diameter_mm,
            inner_width_mm=chain.inner_width_mm,
            transverse_pitch_mm=chain.transverse_pitch_mm,
            plate_height_mm=chain.plate_height_mm,
            designation=chain.designation,
            is_double_pitch=chain.is_double_pitch,
            has_large_rollers=chain.has_large_rollers,
            source=f"{chain.designation}: {chain.source}",
        )
        return replace(engagement, estimates=tuple(engagement._estimates_of(chain)))

    def _estimates_of(self, chain: Chain) -> Iterator[Estimate]:
        """What was remembered may be off either way; of disputed figures the larger one was taken."""
        for doubt in chain.plausible_errors:
            value = getattr(self, doubt.field, None)
            if doubt.field == "tooth_width_mm":
                value = self.standard_tooth_width_mm()
            if value is not None:
                low, high = value - doubt.error_mm, value
                if doubt.kind is SourceKind.MEMORY:
                    high = value + doubt.error_mm
                yield Estimate(doubt.field, value, low, high, doubt.kind, of=chain.designation)

    @property
    def unseen_fields(self) -> frozenset[str]:
        """Dimensions that were only remembered."""
        return frozenset(one.name for one in self.estimates if one.kind is SourceKind.MEMORY)

    def standard_tooth_width_mm(self, strands: int = 1) -> float:
        """ISO 606 width of one row of teeth; a double-pitch rim has the width of its base chain."""
        if self.tooth_width_mm is not None and strands == 1:
            return self.tooth_width_mm
        base_pitch_mm = self.pitch_mm / 2 if self.is_double_pitch else self.pitch_mm
        return tooth_width_mm(base_pitch_mm, inner_width_mm=self.inner_width_mm, strands=strands)

    @property
    def name(self) -> str:
        return self.designation or f"{self.pitch_mm:g} × {self.inner_width_mm:g} mm"

    def effective_teeth(
        self, teeth: int, *, is_double_pitch_rim: bool = True, single_cut: bool | None
    ) -> float:
        """Teeth that this chain meets in one turn: half of them in every second gap; an unknown cut is taken as single.

        Source: geometry; double-cut sprockets have two gaps per chain pitch (ASME B29.3 practice).
        """
        if not self.is_double_pitch or self.has_large_rollers:
            return float(teeth)
        return teeth / 2 if not is_double_pitch_rim or single_cut is False else float(teeth)


@dataclass(frozen=True, kw_only=True)
class Shaft(_CheckedSizes):
    """What a position offers to a sprocket."""

    kind: ShaftKind
    diameter_mm: float | None = None
    key_width_mm: float | None = None
    key_height_mm: float | None = None
    keyway_depth_mm: float | None = None
    key_standard: KeyStandard | None = None
    across_flats_mm: float | None = None
    bush_size: str | None = None


@dataclass(frozen=True, kw_only=True)
class Envelope(_CheckedSizes):
    """The room that guard, shaft and neighbours leave.

    `outside_diameter_mm` is for the wheel with its chain on. Where the room was copied from the old part, `is_measured` is
    False and it is that of the bare wheel.
    """

    outside_diameter_mm: float | None = None
    hub_diameter_mm: float | None = None
    length_through_bore_mm: float | None = None
    is_measured: bool = True


@dataclass(frozen=True, kw_only=True)
class Sprocket(_CheckedSizes):
    """A sprocket by its generic attributes."""

    chain: Engagement | None = None
    teeth: int | None = None
    strands: int | None = None
    role_kind: RoleKind | None = None
    hub_style: HubStyle | None = None
    bore_type: BoreType | None = None
    bore_mm: float | None = None
    max_bore_mm: float | None = None
    keyway_width_mm: float | None = None
    keyway_depth_mm: float | None = None
    key_standard: KeyStandard | None = None
    set_screws: int | None = None
    bush_size: str | None = None
    hex_across_flats_mm: float | None = None
    hub_diameter_mm: float | None = None
    hub_diameter_2_mm: float | None = None
    length_through_bore_mm: float | None = None
    outside_diameter_mm: float | None = None
    tooth_width_mm: float | None = None
    material: Material | None = None
    material_grade: str | None = None
    hardened_teeth: bool | None = None
    food_contact: bool | None = None
    non_sparking: bool | None = None
    single_cut: bool | None = None
    mass_kg: float | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        _refuse_bad_counts(self.teeth, self.strands)

    @property
    def widest_hub_mm(self) -> float | None:
        known = [size for size in (self.hub_diameter_mm, self.hub_diameter_2_mm) if size is not None]
        return max(known) if known else None

    def effective_teeth_under(self, chain: Engagement | None) -> float | None:
        if self.teeth is None or self.chain is None or chain is None:
            return self.teeth
        return chain.effective_teeth(
            self.teeth, is_double_pitch_rim=self.chain.is_double_pitch, single_cut=self.single_cut
        )


@dataclass(frozen=True, kw_only=True)
class Requirement:
    """What a position requires. `interface` is the part to replace, where only that is known: then equal mounting is enough."""

    chain: Engagement | None = None
    strands: int | None = None
    teeth: int | None = None
    role: PositionRole | None = None
    minimum_teeth: int | None = None
    single_cut: bool | None = None
    shaft: Shaft | None = None
    interface: Sprocket | None = None
    hub_style: HubStyle | None = None
    material: Material | None = None
    material_grade: str | None = None
    hardened_teeth: bool | None = None
    environment: frozenset[Environment] = frozenset()
    envelope: Envelope = field(default_factory=Envelope)
    food_contact_required: bool = False
    non_sparking_required: bool = False
    is_shock_loaded: bool | None = None

    def __post_init__(self) -> None:
        _refuse_bad_counts(self.teeth, self.strands)
        if self.minimum_teeth is not None:
            _refuse_bad_counts(self.minimum_teeth, None)

    @property
    def is_idler(self) -> bool:
        return self.role is PositionRole.IDLER

    @property
    def effective_teeth(self) -> float | None:
        if self.teeth is None or self.chain is None:
            return self.teeth
        return self.chain.effective_teeth(self.teeth, single_cut=self.single_cut)
