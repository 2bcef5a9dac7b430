"""What the drive carries: rating of the chain, torque through bush and key, wear of the chain in place, duty."""

from dataclasses import dataclass

from drives.chain.basis import find_basis
from drives.chain.factors import design_power_kw
from drives.chain.forces import hub_torque_nm, key_bearing_mpa, shaft_torque_nm
from drives.chain.lubrication import lubrication
from drives.chain.rating import Rating, rate
from drives.chain.wear import elongation_limit_percent
from drives.place.duty import Place
from inventory.facts import fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.engagement import standard_tooth_width_mm
from inventory.interchange.key import keyseat_for
from inventory.interchange.values import Finding, not_asked, not_known
from inventory.interchange.vocabulary import Aspect, Operation, Outcome, Role, ShaftKind
from inventory.standards.bushes import UnknownBush, find_bush
from inventory.standards.chains import Chain, UnknownChain, find_chain
from inventory.standards.sizes import MM_PER_INCH

WEAR_SOURCE = "3 %, 200/N % above 66 teeth, 1.5 % on fixed centres: three trade sources"
SAME_UTILISATION = 1e-6
"""Two utilisations nearer than this are the same: the same formula on the same numbers."""


@dataclass(frozen=True, kw_only=True)
class Load:
    """Findings about what the drive carries, and the utilisation with the candidate on it."""

    findings: tuple[Finding, ...]
    utilisation: float | None = None


def check_load(place: Place) -> Load:
    """Rating, torque, hardness of small fast drivers."""
    if place.required.is_idler:
        return Load(findings=())
    finding, utilisation = _rating(place)
    return Load(
        findings=(finding, *_bush_torque(place), *_key_pressure(place), *_fast_driver(place)),
        utilisation=utilisation,
    )


def _unchecked_rating(text: str) -> tuple[Finding, None]:
    return not_asked(Aspect.RATING, fact("text", text=f"The rating was not looked at: {text}")), None


def _rating(place: Place) -> tuple[Finding, float | None]:
    duty, new = place.duty, place.new_teeth
    if duty.power_kw is None or duty.speed_rpm is None:
        return _unchecked_rating("power and speed of this drive are not both recorded.")
    if new is None or place.required.strands is None:
        return _unchecked_rating("teeth or strands are not recorded.")
    if place.required.role is None:
        return _unchecked_rating("whether this sprocket drives or is driven is not recorded.")
    rating = _rated(place, new)
    if isinstance(rating, str):
        return _unchecked_rating(rating)
    return _rating_finding(place, rating, new)


def _standard_chain(place: Place) -> Chain | None:
    designation = place.required.chain.designation if place.required.chain else None
    try:
        return find_chain(designation) if designation else None
    except UnknownChain:
        return None


def _small(place: Place, own: float) -> tuple[float, float] | None:
    """Teeth and speed of the small sprocket, with this one at `own` teeth."""
    speed, pair = place.duty.speed_rpm, place.driver_driven(own)
    if speed is None:
        return None
    if pair is None:
        return None if place.is_driven else (own, speed)
    small = min(pair)
    return small, speed * pair[0] / small


def _rated(place: Place, own: float) -> Rating | str:
    """The rating with this sprocket at `own` teeth, or why there is none."""
    chain, small = _standard_chain(place), _small(place, own)
    if chain is None:
        return "the chain is outside the standards that ratings are published for."
    if small is None:
        return "the mating sprocket is not recorded."
    try:
        basis = find_basis(
            chain.pitch_mm / MM_PER_INCH,
            asme_designation=chain.asme_designation,
            series=chain.series,
            is_double_pitch=chain.is_double_pitch,
        )
        rating = rate(basis, teeth=small[0], speed_rpm=small[1], strands=place.required.strands or 1)
    except ValueError as error:
        return f"{error}"
    return (
        rating
        if rating.rated_power_kw is not None
        else (rating.notes[0] if rating.notes else "no rating is published for this chain.")
    )


def _rating_finding(place: Place, rating: Rating, new: float) -> tuple[Finding, float | None]:
    duty, rated = place.duty, rating.rated_power_kw or 0.0
    factor = duty.service_factor if duty.service_factor is not None else 1.0
    design = design_power_kw(duty.power_kw or 0.0, service_factor=factor)
    utilisation = design / rated if rated > 0 else float("inf")
    before = _utilisation_before(place, design)
    outcome, text = _rated_words(place, utilisation, before, design, rated)
    if duty.service_factor is None and outcome is not Outcome.NO:
        return _unchecked_rating(
            f"the service factor is not recorded; without one {utilisation:.0%} of the rating would be used."
        )
    finding = Finding(
        aspect=Aspect.RATING,
        outcome=outcome,
        facts=(fact("text", text=f"{text} Limited by {str(rating.limited_by).replace('_', ' ')}."),),
        required=round(design, 3),
        offered=round(rated, 3),
        limit=1.0,
        margin=round(1 - utilisation, 4) if rated > 0 else None,
        sources=(
            fact("text", text=f"{rating.source}; generation: {rating.generation}; {rating.confidence}"),
        ),
    )
    return finding, round(utilisation, 4) if rated > 0 else None


def _utilisation_before(place: Place, design: float) -> float | None:
    if place.old_teeth is None:
        return None
    rating = _rated(place, place.old_teeth)
    if isinstance(rating, str) or not rating.rated_power_kw:
        return None
    return design / rating.rated_power_kw


def _rated_words(
    place: Place, utilisation: float, before: float | None, design: float, rated: float
) -> tuple[Outcome, str]:
    carried = f"{design:.2f} kW design power, {rated:.2f} kW rated at {place.new_teeth:g} teeth: {utilisation:.0%} used"
    if utilisation > 1:
        as_before = before is not None and before >= utilisation - SAME_UTILISATION
        history = " The drive is overloaded as it stands; this part does not cure it." if as_before else ""
        return Outcome.NO, f"{carried}: overloaded.{history}"
    if _is_past_galling(place):
        return (
            Outcome.REVIEW,
            f"{carried}, but the speed is in the galling region: ask the chain's maker for the lubrication.",
        )
    if before is not None and utilisation > before + SAME_UTILISATION:
        return Outcome.REVIEW, f"{carried}, more than the {before:.0%} that the drive ran at before."
    return Outcome.OK, f"{carried}."


def _is_past_galling(place: Place) -> bool:
    chain, small = _standard_chain(place), _small(place, place.new_teeth) if place.new_teeth else None
    if chain is None or small is None:
        return False
    try:
        basis = find_basis(
            chain.pitch_mm / MM_PER_INCH,
            asme_designation=chain.asme_designation,
            series=chain.series,
            is_double_pitch=chain.is_double_pitch,
        )
        return lubrication(basis, teeth=small[0], speed_rpm=small[1]).ask_the_maker
    except ValueError:
        return False


def _design_torque_nm(place: Place) -> float | None:
    """Torque at this hub, with the service factor; the plain torque where no factor is recorded."""
    duty, new, role = place.duty, place.new_teeth, place.required.role
    if duty.power_kw is None or duty.speed_rpm is None or new is None or role is None:
        return None
    factor = duty.service_factor if duty.service_factor is not None else 1.0
    torque = shaft_torque_nm(design_power_kw(duty.power_kw, service_factor=factor), duty.speed_rpm)
    if not place.is_driven:
        return torque
    return hub_torque_nm(torque, teeth=new, other_teeth=duty.mating_teeth) if duty.mating_teeth else None


def _bush_torque(place: Place) -> tuple[Finding, ...]:
    size, torque = place.offered.bush_size, _design_torque_nm(place)
    if not is_bushed(place.offered) or not size or torque is None:
        return ()
    try:
        bush = find_bush(size)
    except UnknownBush:
        return ()
    if bush.torque_capacity_nm is None or "torque_capacity_nm" in bush.unseen_fields:
        return (
            not_asked(
                Aspect.MOUNTING,
                fact(
                    "text",
                    text=f"{torque:.0f} Nm go through the bush; what a {size} carries was never seen in a source.",
                ),
            ),
        )
    holds = torque <= bush.torque_capacity_nm
    if holds and place.duty.service_factor is None:
        return (
            not_asked(
                Aspect.MOUNTING,
                fact(
                    "text",
                    text=f"{torque:.0f} Nm go through the bush before any service factor, which is not recorded; a {size} carries {bush.torque_capacity_nm:.0f} Nm.",
                ),
            ),
        )
    return (
        Finding(
            aspect=Aspect.MOUNTING,
            outcome=Outcome.OK if holds else Outcome.NO,
            required=round(torque, 1),
            offered=bush.torque_capacity_nm,
            limit=bush.torque_capacity_nm,
            margin=round(bush.torque_capacity_nm - torque, 1),
            sources=(fact("text", text=bush.source),),
            facts=(
                fact(
                    "text",
                    text=f"{torque:.0f} Nm design torque, a {size} bush carries {bush.torque_capacity_nm:.0f} Nm"
                    + ("." if holds else ": it slips."),
                ),
            ),
        ),
    )


def _key_pressure(place: Place) -> tuple[Finding, ...]:
    """Pressure of the key in the hub keyway; for review above the plant's setting, never refused on it alone."""
    shaft, torque = place.required.shaft, _design_torque_nm(place)
    if shaft is None or shaft.kind is not ShaftKind.KEYED or shaft.diameter_mm is None:
        return ()
    length = place.offered.length_through_bore_mm or _least_length_mm(place)
    keyseat = keyseat_for(shaft)
    if length is None or torque is None or keyseat.width_mm is None or is_bushed(place.offered):
        return ()
    pressure = key_bearing_mpa(
        torque, shaft_diameter_mm=shaft.diameter_mm, bearing_depth_mm=keyseat.hub_depth_mm, length_mm=length
    )
    limit = place.practice.thresholds.key_pressure_review_mpa
    if pressure <= limit:
        return ()
    if place.offered.length_through_bore_mm is None:
        return (
            not_known(
                Aspect.MOUNTING,
                fact(
                    "text",
                    text=f"{torque:.0f} Nm go through a {keyseat.text} key, and the candidate's length through bore is not recorded: measure how long the key bears.",
                ),
                required=round(torque, 1),
            ),
        )
    return (
        Finding(
            aspect=Aspect.MOUNTING,
            outcome=Outcome.REVIEW,
            required=round(torque, 1),
            offered=round(pressure, 1),
            limit=limit,
            margin=round(limit - pressure, 1),
            facts=(
                fact(
                    "text",
                    text=f"{torque:.0f} Nm through a {keyseat.text} key over {length:g} mm press {pressure:.0f} N/mm² on the hub keyway; above {limit:g} it wants an engineer's eye.",
                ),
            ),
            sources=(fact("text", text="2T / (d (h - t1) L); the limit is from memory and a setting"),),
        ),
    )


def _least_length_mm(place: Place) -> float | None:
    """No hub is shorter than its teeth are wide."""
    chain = place.offered.chain
    return standard_tooth_width_mm(chain) if chain else None


def _fast_driver(place: Place) -> tuple[Finding, ...]:
    """Small fast drivers want hardened teeth, where the place itself says nothing."""
    limits, speed, teeth = place.practice.thresholds, place.duty.speed_rpm, place.offered.teeth
    applies = place.required.role is Role.DRIVER and place.required.hardened_teeth is None
    if not applies or speed is None or teeth is None or place.offered.hardened_teeth:
        return ()
    if teeth > limits.small_driver_teeth or speed <= limits.fast_driver_rpm:
        return ()
    if place.offered.hardened_teeth is None:
        return (
            not_known(
                Aspect.TOOTH_HARDNESS,
                fact(
                    "text",
                    text=f"A driver of {teeth} teeth at {speed:g} rpm: small fast drivers are made with hardened teeth, and whether this candidate's are is not recorded: "
                    "try a file on a tooth.",
                ),
                required="hardened",
            ),
        )
    return (
        Finding(
            aspect=Aspect.TOOTH_HARDNESS,
            outcome=Outcome.REVIEW,
            required="hardened",
            offered=False,
            limit=limits.fast_driver_rpm,
            margin=round(limits.fast_driver_rpm - speed, 1),
            facts=(
                fact(
                    "text",
                    text=f"A driver of {teeth} teeth at {speed:g} rpm: small fast drivers are made with hardened teeth, this candidate's are not.",
                ),
            ),
            sources=(fact("text", text="stock lists harden through 25 teeth; 600 rpm from memory"),),
        ),
    )


def check_chain_wear(place: Place) -> tuple[Finding, ...]:
    """A new sprocket under a worn chain is a new chain as well."""
    worn, teeth, chain = place.duty.elongation_percent, place.new_teeth, place.required.chain
    if worn is None:
        return (
            not_asked(
                Aspect.CHAIN_WEAR,
                fact(
                    "text",
                    text="No elongation of the chain in place is recorded: measure it over as many pitches as possible.",
                ),
            ),
        )
    counts = [count for count in (teeth, float(place.duty.mating_teeth or 0)) if count]
    if not counts:
        return (
            not_asked(
                Aspect.CHAIN_WEAR,
                fact(
                    "text",
                    text=f"The chain is {worn:g} % longer; without a tooth count its limit is not known.",
                ),
            ),
        )
    limit = elongation_limit_percent(
        max(counts),
        fixed_centres=bool(place.duty.fixed_centres),
        double_pitch=bool(chain and chain.is_double_pitch),
    )
    if worn < limit:
        return (
            Finding(
                aspect=Aspect.CHAIN_WEAR,
                outcome=Outcome.OK,
                required=limit,
                offered=worn,
                limit=limit,
                margin=round(limit - worn, 3),
                sources=(fact("text", text=WEAR_SOURCE),),
                facts=(
                    fact(
                        "text",
                        text=f"The chain in place is {worn:g} % longer than new; its limit is {limit:.3g} %.",
                    ),
                ),
            ),
        )
    return (_worn_out(place, worn, limit),)


def _worn_out(place: Place, worn: float, limit: float) -> Finding:
    step = place.practice.times.step(
        Operation.FIT_CHAIN,
        fact("text", text="fit a new chain with the new sprocket, and look at the mating sprocket's teeth"),
    )
    return Finding(
        aspect=Aspect.CHAIN_WEAR,
        outcome=Outcome.WORK,
        required=limit,
        offered=worn,
        limit=limit,
        margin=round(limit - worn, 3),
        sources=(fact("text", text=WEAR_SOURCE),),
        work=(step,),
        facts=(
            fact(
                "text",
                text=f"The chain in place is {worn:g} % longer than new, its limit is {limit:.3g} %: a new sprocket under it is ruined in weeks. Fit a new chain with it.",
            ),
        ),
    )


def check_duty(place: Place) -> tuple[Finding, ...]:
    """Lifting and man-riding drives get no automatic substitute."""
    if place.duty.lifting is None:
        return (
            not_asked(
                Aspect.DUTY,
                fact("text", text="Whether this drive lifts a load or carries people is not recorded."),
            ),
        )
    if not place.duty.lifting:
        return (
            Finding(
                aspect=Aspect.DUTY,
                outcome=Outcome.OK,
                required=False,
                offered=None,
                facts=(fact("text", text="Not a lifting drive."),),
                sources=(fact("text", text="as recorded for the drive"),),
            ),
        )
    return (
        Finding(
            aspect=Aspect.DUTY,
            outcome=Outcome.REVIEW,
            required="lifting",
            offered=None,
            facts=(
                fact(
                    "text",
                    text="This drive lifts or carries people: no substitute is offered by this service, whatever fits. Only the maker's part, "
                    "released by an authorised person under the local rules for lifting equipment.",
                ),
            ),
            sources=(
                fact(
                    "text",
                    text="judgement: lifting, hoisting and man-riding are decided by licensed practice",
                ),
            ),
        ),
    )
