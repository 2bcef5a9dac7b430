"""Does the chain run on the rim? Directional: the chain that runs against the sprocket that is offered."""

from dataclasses import dataclass, replace
from math import cos, radians

from inventory.facts import fact
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.values import Engagement, Finding, Requirement, Specification, not_known
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.rim import tooth_width_mm, width_over_strands_mm
from inventory.standards.tooth_gap import seating_radius_max_mm, seating_radius_min_mm

SAME_RIM_MM = 0.05
"""Editions print rollers and widths of one chain up to this far apart (08A roller 7.92 and 7.95 mm)."""
RIM_FIELDS = frozenset({"roller_diameter_mm", "inner_width_mm"})
SCREENING_SOURCE = "screening rule of this project over the seat diameters and tooth widths of ISO 606; dimensions: {chain}; {rim}"


@dataclass(frozen=True)
class Meeting:
    """A chain meeting a rim, with the numbers that the screening rule looks at."""

    chain: Engagement
    rim: Engagement
    rim_width_mm: float
    is_every_second_gap: bool

    @property
    def clearance_mm(self) -> float:
        return self.chain.inner_width_mm - self.rim_width_mm

    @property
    def side_play_share(self) -> float:
        return self.clearance_mm / self.chain.inner_width_mm

    @property
    def undersize_share(self) -> float:
        """How much smaller the chain's roller is than the one the seat was cut for; negative when larger."""
        return 1 - self.chain.roller_diameter_mm / self.rim.roller_diameter_mm

    @property
    def seat_max_mm(self) -> float:
        return 2 * seating_radius_max_mm(self.rim.roller_diameter_mm)

    @property
    def seat_min_mm(self) -> float:
        return 2 * seating_radius_min_mm(self.rim.roller_diameter_mm)


@dataclass(frozen=True)
class Screened:
    """Outcome of the screening rule, in words that can be read aloud."""

    outcome: Outcome
    explanation: str
    required: str | float | None = None
    offered: str | float | None = None
    limit: float | None = None
    margin: float | None = None


def screen(
    chain: Engagement, rim: Engagement, *, rim_width_mm: float | None = None, limits: Thresholds | None = None
) -> Screened:
    """Whether `chain` runs on one row of a rim cut for `rim`.

    Parameters
    ----------
    chain, rim : Engagement
        The chain that runs, and the chain the rim was cut for. Lengths in mm.
    rim_width_mm : float, optional
        Measured tooth width; by default the ISO 606 width for the rim's chain.
    limits : Thresholds, optional
        Shipped values by default.

    Returns
    -------
    Screened
        ok (same), review (conditional) or no (poor, or it does not engage).

    Source: screening rule of this project; seat diameters and tooth widths of ISO 606.

    Examples
    --------
    >>> from inventory.standards.chains import find_chain
    >>> screen(Engagement.of(find_chain("08B")), Engagement.of(find_chain("08A"))).outcome.value
    'no'
    """
    limits = limits or Thresholds()
    every_second = _lies_in_every_second_gap(chain, rim, limits)
    if not every_second and abs(chain.pitch_mm - rim.pitch_mm) > limits.pitch_tolerance_mm:
        return _other_pitch(chain, rim)
    width = rim_width_mm or standard_tooth_width_mm(rim)
    meeting = Meeting(chain, rim, width, every_second)
    return _refusal(meeting, limits) or _condition(meeting, limits) or _same(meeting)


def standard_tooth_width_mm(rim: Engagement, strands: int = 1) -> float:
    """ISO 606 width of one row of teeth; a double-pitch rim has the width of its base chain."""
    base_pitch_mm = rim.pitch_mm / 2 if rim.is_double_pitch else rim.pitch_mm
    return tooth_width_mm(base_pitch_mm, inner_width_mm=rim.inner_width_mm, strands=strands)


def _lies_in_every_second_gap(chain: Engagement, rim: Engagement, limits: Thresholds) -> bool:
    return (
        chain.is_double_pitch
        and not chain.has_large_rollers
        and not rim.is_double_pitch
        and abs(chain.pitch_mm - 2 * rim.pitch_mm) <= 2 * limits.pitch_tolerance_mm
    )


def _other_pitch(chain: Engagement, rim: Engagement) -> Screened:
    difference = rim.pitch_mm - chain.pitch_mm
    large = (
        " Large rollers never run on a single-pitch rim."
        if chain.has_large_rollers and abs(chain.pitch_mm - 2 * rim.pitch_mm) < 1
        else ""
    )
    return Screened(
        Outcome.NO,
        f"The pitch is another: the chain has {chain.pitch_mm:.4g} mm, the rim is cut for {rim.pitch_mm:.4g} mm; "
        f"the error adds up from tooth to tooth.{large}",
        chain.pitch_mm,
        rim.pitch_mm,
        chain.pitch_mm,
        -abs(difference),
    )


def _refusal(m: Meeting, limits: Thresholds) -> Screened | None:
    """Does not engage, or engages and eats the chain."""
    chain, rim = m.chain, m.rim
    if m.clearance_mm <= limits.width_clearance_mm:
        return Screened(
            Outcome.NO,
            f"The tooth does not enter the chain: the {rim.name} tooth is {m.rim_width_mm:.2f} mm wide, the {chain.name} "
            f"chain has {chain.inner_width_mm:.2f} mm between its plates.",
            chain.inner_width_mm,
            m.rim_width_mm,
            chain.inner_width_mm,
            m.clearance_mm,
        )
    if chain.roller_diameter_mm > m.seat_max_mm:
        return Screened(
            Outcome.NO,
            f"The {chain.name} roller ({chain.roller_diameter_mm:.2f} mm) is larger than the seat of the {rim.name} rim "
            f"({m.seat_max_mm:.2f} mm at most): the chain rides high and jumps under load.",
            chain.roller_diameter_mm,
            m.seat_max_mm,
            m.seat_max_mm,
            m.seat_max_mm - chain.roller_diameter_mm,
        )
    if m.undersize_share > limits.roller_undersize_poor_share:
        gap = rim.roller_diameter_mm - chain.roller_diameter_mm
        return Screened(
            Outcome.NO,
            f"The {chain.name} roller ({chain.roller_diameter_mm:.2f} mm) is {gap:.2f} mm smaller than the one the {rim.name} rim "
            f"is cut for: it drops in loose, hammers, and eats chain and teeth.",
            chain.roller_diameter_mm,
            rim.roller_diameter_mm,
            rim.roller_diameter_mm * (1 - limits.roller_undersize_poor_share),
            -gap,
        )
    if m.side_play_share > limits.side_play_poor_share:
        return Screened(
            Outcome.NO,
            f"The {rim.name} tooth ({m.rim_width_mm:.2f} mm) is too narrow for the {chain.name} chain ({chain.inner_width_mm:.2f} mm between "
            f"plates): {m.side_play_share:.0%} side play where 5 to 7 % is normal; it engages and eats the chain.",
            chain.inner_width_mm,
            m.rim_width_mm,
            chain.inner_width_mm * (1 - limits.side_play_poor_share),
            limits.side_play_poor_share - m.side_play_share,
        )
    return None


def _condition(m: Meeting, limits: Thresholds) -> Screened | None:
    """Runs, but nearer to a limit than the proper pair does."""
    reasons = []
    if m.side_play_share < limits.side_play_thin_share:
        reasons.append(f"only {m.clearance_mm:.2f} mm are left between tooth and plates")
    elif m.side_play_share > limits.side_play_normal_share:
        reasons.append(f"side play is {m.side_play_share:.1%} where 5 to 7 % is normal")
    if m.chain.roller_diameter_mm > m.seat_min_mm:
        reasons.append(
            f"the roller ({m.chain.roller_diameter_mm:.2f} mm) sits tight in the smallest seat ({m.seat_min_mm:.2f} mm)"
        )
    elif abs(m.undersize_share) > limits.roller_same_share:
        difference = m.chain.roller_diameter_mm - m.rim.roller_diameter_mm
        reasons.append(
            f"the roller is {abs(difference):.2f} mm {'larger' if difference > 0 else 'smaller'} than the rim's"
        )
    if not reasons:
        return None
    return Screened(
        Outcome.REVIEW,
        f"The {m.chain.name} chain engages a {m.rim.name} rim, but {' and '.join(reasons)}: for a short time and with an eye on wear.",
        m.chain.name,
        m.rim.name,
        m.chain.inner_width_mm,
        m.clearance_mm,
    )


def _same(m: Meeting) -> Screened:
    if m.chain == m.rim:
        text = f"Same chain: {m.chain.name}."
    else:
        text = (
            f"The {m.chain.name} chain runs on a {m.rim.name} rim as on its own: equal pitch, roller "
            f"{m.chain.roller_diameter_mm:.2f} and {m.rim.roller_diameter_mm:.2f} mm, {m.clearance_mm:.2f} mm side play."
        )
    return Screened(Outcome.OK, text, m.chain.name, m.rim.name, m.chain.inner_width_mm, m.clearance_mm)


def check_chain(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Chain engagement: pitch, roller, width; for several strands the distance between the rows."""
    chain, rim = required.chain, offered.chain
    if chain is None or rim is None:
        side = "The chain of this place" if chain is None else "The chain that the candidate is cut for"
        return (
            not_known(
                Aspect.CHAIN,
                fact(
                    "text",
                    text=f"{side} is not recorded: measure pitch, roller and width before anything else.",
                ),
                required=chain.name if chain else None,
                offered=rim.name if rim else None,
            ),
        )
    screened = screen(chain, rim, rim_width_mm=_rim_width_mm(chain, offered), limits=practice.thresholds)
    screened = _undecided_by_unseen(screened, chain, rim, practice.thresholds)
    source = SCREENING_SOURCE.format(chain=chain.source, rim=rim.source)
    found = [_finding(screened, source, chain, rim), *_doubted_width(required, offered, practice.thresholds)]
    if screened.outcome is not Outcome.NO:
        found += _double_pitch(chain, rim, offered, practice.thresholds, source)
        found += _row_distance(required, offered, practice.thresholds, source)
    return tuple(found)


def _rim_width_mm(chain: Engagement, offered: Specification) -> float | None:
    """A recorded tooth width speaks only where the rim is another; on one rim makers' widths vary lawfully."""
    rim = offered.chain
    if rim is None or _is_one_rim(chain, rim):
        return None
    return offered.tooth_width_mm


def _is_one_rim(chain: Engagement, rim: Engagement) -> bool:
    """Chains of one name, or of equal pitch, roller and width: standard and heavy plates run on one rim."""
    if chain.designation is not None and chain.designation == rim.designation:
        return True
    return all(
        abs(getattr(chain, name) - getattr(rim, name)) < SAME_RIM_MM
        for name in ("pitch_mm", "roller_diameter_mm", "inner_width_mm")
    )


def _undecided_by_unseen(
    screened: Screened, chain: Engagement, rim: Engagement, limits: Thresholds
) -> Screened:
    """A roller or width that was never seen in a source refuses nothing by itself: then it is for review."""
    unseen = (chain.unseen_fields | rim.unseen_fields) & RIM_FIELDS
    other_pitch = not _lies_in_every_second_gap(chain, rim, limits) and (
        abs(chain.pitch_mm - rim.pitch_mm) > limits.pitch_tolerance_mm
    )
    if not unseen or other_pitch or screened.outcome is not Outcome.NO:
        return screened
    names = " and ".join(sorted(name.removesuffix("_mm").replace("_", " ") for name in unseen))
    return replace(
        screened,
        outcome=Outcome.REVIEW,
        explanation=f"{screened.explanation} But the {names} rests on memory, no source was seen: measure before it is decided.",
    )


def _doubted_width(required: Requirement, offered: Specification, limits: Thresholds) -> list[Finding]:
    """A recorded tooth width that no rim for this chain has: the part may be cut for a look-alike."""
    rim, width_mm = offered.chain, offered.tooth_width_mm
    if rim is None or width_mm is None or offered == required.interface:
        return []
    standard_mm = standard_tooth_width_mm(rim)
    if limits.tooth_width_least_share * standard_mm <= width_mm < rim.inner_width_mm:
        return []
    return [
        Finding(
            aspect=Aspect.CHAIN,
            outcome=Outcome.REVIEW,
            required=round(standard_mm, 2),
            offered=width_mm,
            limit=round(limits.tooth_width_least_share * standard_mm, 2),
            margin=round(width_mm - limits.tooth_width_least_share * standard_mm, 2),
            facts=(
                fact(
                    "text",
                    text=f"The tooth is recorded {width_mm:g} mm wide; a rim for {rim.name} has about {standard_mm:.2f} mm. "
                    "Measure it: it may be cut for a chain that looks like this one.",
                ),
            ),
            sources=(fact("text", text="tooth width bf1 of ISO 606; the band is a setting of this project"),),
        )
    ]


def _finding(screened: Screened, source: str, chain: Engagement, rim: Engagement) -> Finding:
    return Finding(
        aspect=Aspect.CHAIN,
        outcome=screened.outcome,
        facts=(fact("text", text=screened.explanation),),
        required=chain.name,
        offered=rim.name,
        limit=screened.limit,
        margin=None if screened.margin is None else round(screened.margin, 3),
        sources=(fact("text", text=source),),
    )


def _double_pitch(
    chain: Engagement, rim: Engagement, offered: Specification, limits: Thresholds, source: str
) -> list[Finding]:
    if not _lies_in_every_second_gap(chain, rim, limits):
        return []
    if offered.teeth is None:
        return [
            not_known(
                Aspect.CHAIN,
                fact(
                    "text",
                    text="Double-pitch chain on a single-pitch rim: the number of teeth decides, and it is not recorded.",
                ),
            )
        ]
    short = 1 - cos(radians(180 / offered.teeth))
    few = offered.teeth < limits.double_pitch_no_below_teeth
    return [
        Finding(
            aspect=Aspect.CHAIN,
            outcome=Outcome.NO if few else Outcome.REVIEW,
            facts=(
                fact(
                    "text",
                    text=f"Double-pitch chain in every second gap of a single-pitch rim: over two teeth the rim is {short:.2%} shorter than "
                    f"the chain ({offered.teeth} teeth). "
                    + ("Too few teeth: it climbs." if few else "Runs, but wears faster; have it looked at."),
                ),
            ),
            required=chain.name,
            offered=rim.name,
            limit=limits.double_pitch_no_below_teeth,
            margin=offered.teeth - limits.double_pitch_no_below_teeth,
            sources=(
                fact(
                    "text",
                    text=f"chord 2p cos(180°/z), computed; the least count is a setting of this project, no published rule was seen; {source}",
                ),
            ),
        )
    ]


def _row_distance(
    required: Requirement, offered: Specification, limits: Thresholds, source: str
) -> list[Finding]:
    """Several strands: the rows must stand as far apart as the strands."""
    if required.strands is None or required.strands < 2 or required.chain is None or offered.chain is None:
        return []
    if (offered.strands or required.strands) < 2:
        return []
    chain_mm, rim_mm = required.chain.transverse_pitch_mm, offered.chain.transverse_pitch_mm
    if chain_mm is None or rim_mm is None:
        if required.chain.designation and required.chain.designation == offered.chain.designation:
            return []
        return [
            not_known(
                Aspect.CHAIN,
                fact(
                    "text",
                    text="The distance between the strands is not recorded: measure it from row to row.",
                ),
            )
        ]
    apart = abs(chain_mm - rim_mm)
    if apart <= limits.transverse_pitch_tolerance_mm:
        return []
    unseen = "transverse_pitch_mm" in required.chain.unseen_fields | offered.chain.unseen_fields
    return [
        Finding(
            aspect=aspect,
            outcome=Outcome.REVIEW if unseen else Outcome.NO,
            facts=(
                fact(
                    "text",
                    text=f"The rows do not line up: the strands of the {required.chain.name} are {chain_mm:.2f} mm apart, the rows of the "
                    f"{offered.chain.name} rim {rim_mm:.2f} mm, {apart:.2f} mm more or less per row."
                    + (" One of the figures was never seen in a source: measure." if unseen else ""),
                ),
            ),
            required=chain_mm,
            offered=rim_mm,
            limit=limits.transverse_pitch_tolerance_mm,
            margin=round(limits.transverse_pitch_tolerance_mm - apart, 3),
            sources=(fact("text", text=source),),
        )
        for aspect in (Aspect.CHAIN, Aspect.STRANDS)
    ]


def check_strands(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Number of rows against number of strands."""
    wanted, rows = required.strands, offered.strands
    if wanted is None or rows is None:
        side = "of this place" if wanted is None else "of the candidate"
        return (
            not_known(
                Aspect.STRANDS,
                fact("text", text=f"The number of strands {side} is not recorded: count the rows."),
                required=wanted,
                offered=rows,
            ),
        )
    if rows == wanted:
        return (
            Finding(
                aspect=Aspect.STRANDS,
                outcome=Outcome.OK,
                facts=(
                    fact(
                        "text",
                        text=f"{wanted} strand{'s' * (wanted > 1)}, {rows} row{'s' * (rows > 1)} of teeth.",
                    ),
                ),
                required=wanted,
                offered=rows,
            ),
        )
    if rows < wanted:
        return (
            Finding(
                aspect=Aspect.STRANDS,
                outcome=Outcome.NO,
                required=wanted,
                offered=rows,
                limit=wanted,
                margin=rows - wanted,
                facts=(
                    fact(
                        "text",
                        text=f"The chain has {wanted} strands and the sprocket only {rows} row{'s' * (rows > 1)}: "
                        "part of the chain would hang beside the teeth. Single sprockets side by side are not held in phase.",
                    ),
                ),
                sources=(
                    fact(
                        "text",
                        text="rule H23 of common practice: rows must be held in phase and at the transverse pitch",
                    ),
                ),
            ),
        )
    return (_more_rows(required, offered, wanted, rows),)


def _more_rows(required: Requirement, offered: Specification, wanted: int, rows: int) -> Finding:
    room_mm = required.envelope.length_through_bore_mm
    width_mm = _width_over_rows_mm(offered)
    if room_mm is not None and width_mm is not None and width_mm > room_mm:
        return Finding(
            aspect=Aspect.STRANDS,
            outcome=Outcome.NO if required.envelope.is_measured else Outcome.REVIEW,
            required=wanted,
            offered=rows,
            limit=room_mm,
            margin=round(room_mm - width_mm, 3),
            facts=(
                fact(
                    "text",
                    text=f"{rows} rows are {width_mm:.1f} mm wide and there is room for {room_mm:.1f} mm only."
                    + (
                        ""
                        if required.envelope.is_measured
                        else " That room was copied from the old part: measure what is really there."
                    ),
                ),
            ),
            sources=(fact("text", text="computed: (rows - 1) × transverse pitch + tooth width"),),
        )
    return Finding(
        aspect=Aspect.STRANDS,
        outcome=Outcome.REVIEW,
        required=wanted,
        offered=rows,
        limit=wanted,
        margin=rows - wanted,
        facts=(
            fact(
                "text",
                text=f"{rows} rows for a chain of {wanted}: it can run on one side of the rim; chain line, width, weight and guard have to be looked at.",
            ),
        ),
        sources=(fact("text", text="judgement: a wider body can run a narrower chain on some of its rows"),),
    )


def _width_over_rows_mm(offered: Specification) -> float | None:
    if offered.chain is None or offered.strands is None or offered.chain.transverse_pitch_mm is None:
        return None
    tooth_mm = standard_tooth_width_mm(offered.chain, offered.strands)
    return width_over_strands_mm(
        tooth_mm, transverse_pitch_mm=offered.chain.transverse_pitch_mm, strands=offered.strands
    )
