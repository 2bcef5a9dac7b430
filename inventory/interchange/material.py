"""Material and tooth hardness: may be better, not worse, for this environment and duty."""

from collections.abc import Callable
from dataclasses import dataclass

from inventory.facts import fact
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Requirement, Specification, not_asked, not_known
from inventory.interchange.vocabulary import Aspect, Environment, Material, Outcome, Role

WET = frozenset({Environment.WASHDOWN, Environment.FOOD, Environment.CORROSIVE, Environment.CHLORIDE})
METALS_THAT_RUST = frozenset(
    {Material.CARBON_STEEL, Material.ALLOY_STEEL, Material.CAST_IRON, Material.SINTERED_STEEL}
)
SMALL_CAST_IRON_TEETH = 25
"""Cast iron is for large, slow, steady driven sprockets; the count is judgement, matching where stock lists end hardening."""
STAINLESS_NAMES = {"316": ("316", "1.4401", "1.4404"), "304": ("304", "1.4301", "1.4307")}
SOURCE = "material rules M1 to M10: common practice; stainless wear 2.5 to 4 times: trade article, indicative"


@dataclass(frozen=True)
class _Word:
    outcome: Outcome
    text: str


def check_material(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Material against material, in this environment."""
    wanted, given = required.material, offered.material
    if given is None:
        if wanted is None and not _is_demanding(required):
            return (
                not_asked(
                    Aspect.MATERIAL,
                    fact("text", text="No material is asked for here, and the candidate's is not recorded."),
                ),
            )
        return (
            not_known(
                Aspect.MATERIAL,
                fact(
                    "text", text="The candidate's material is not recorded: try a magnet, look for a stamp."
                ),
                required=_name(wanted),
            ),
        )
    word = _hot(required, given) or _hard_zone(required, given) or _pair(required, given)
    return (
        *_grade(required, offered),
        Finding(
            aspect=Aspect.MATERIAL,
            outcome=word.outcome,
            facts=(fact("text", text=word.text),),
            required=_name(wanted),
            offered=given.value,
            sources=(fact("text", text=SOURCE),),
        ),
    )


def _is_demanding(required: Requirement) -> bool:
    return bool(
        required.is_shock_loaded or required.environment & (WET | {Environment.HOT, Environment.EXPLOSIVE})
    )


def _name(material: Material | None) -> str | None:
    return material.value if material else None


def _said(material: Material | None) -> str:
    return material.value.replace("_", " ") if material else "not recorded"


def _hot(required: Requirement, given: Material) -> _Word | None:
    if (
        Environment.HOT in required.environment
        and given is Material.PLASTIC
        and required.material is not Material.PLASTIC
    ):
        return _Word(Outcome.NO, "Plastic softens from about 80 to 100 °C: not in a hot place.")
    return None


def _hard_zone(required: Requirement, given: Material) -> _Word | None:
    """Safety properties are never crossed."""
    if Environment.EXPLOSIVE not in required.environment or given is required.material:
        return None
    if required.material is None:
        return _Word(
            Outcome.REVIEW,
            f"An explosive zone, and no material is recorded for this place: {_said(given)} has to be cleared by whoever answers for the zone.",
        )
    return _Word(
        Outcome.NO,
        f"An explosive zone: {_said(given)} instead of {_said(required.material)} crosses a safety property.",
    )


def _pair(required: Requirement, given: Material) -> _Word:
    wanted = required.material
    if wanted is None:
        return _unstated(required, given)
    if wanted is given:
        return _Word(Outcome.OK, f"{_said(given).capitalize()}, as wanted.")
    if given is Material.PLASTIC:
        return _plastic(required)
    if given is Material.CAST_IRON:
        return _cast_iron(required, wanted)
    return _RULES.get((wanted, given), _rust_or_review)(required, given)


def _unstated(required: Requirement, given: Material) -> _Word:
    if given is Material.CAST_IRON and required.is_shock_loaded:
        return _Word(
            Outcome.REVIEW,
            "No material is recorded for this place, and cast iron breaks under shock: have it looked at.",
        )
    wet = required.environment & WET
    if wet and given in METALS_THAT_RUST:
        return _Word(
            Outcome.REVIEW,
            f"No material is recorded for this place and {_said(given)} rusts there ({_places(wet)}): have it looked at.",
        )
    if given is Material.PLASTIC and not required.is_idler:
        return _Word(
            Outcome.REVIEW, "No material is recorded for this place; plastic is for light, slow idlers."
        )
    return _Word(Outcome.OK, f"No material is asked for here; the candidate is {_said(given)}.")


def _places(words: frozenset[Environment]) -> str:
    return ", ".join(sorted(word.value for word in words))


def _plastic(required: Requirement) -> _Word:
    if required.is_idler:
        return _Word(
            Outcome.REVIEW, "Plastic for metal on an idler: only where it runs light, slow and cool."
        )
    return _Word(Outcome.NO, "Plastic for metal on a power drive: the teeth creep and break.")


def _cast_iron(required: Requirement, wanted: Material) -> _Word:
    if wanted in {Material.STAINLESS_STEEL, Material.PLASTIC}:
        return _rust_or_review(required, Material.CAST_IRON)
    if required.is_shock_loaded:
        return _Word(Outcome.NO, "Cast iron for steel under shock: it breaks.")
    if required.role is Role.DRIVER or (
        required.teeth is not None and required.teeth < SMALL_CAST_IRON_TEETH
    ):
        return _Word(
            Outcome.NO,
            f"Cast iron for steel on a driver or a small sprocket (below {SMALL_CAST_IRON_TEETH} teeth): teeth break.",
        )
    return _Word(Outcome.REVIEW, "Cast iron for steel: only on large, slow, steady driven sprockets.")


def _better(required: Requirement, given: Material) -> _Word:
    return _Word(
        Outcome.OK,
        f"{_said(given).capitalize()} for {_said(required.material)}: stronger, the rest is equal.",
    )


def _rust_or_review(required: Requirement, given: Material) -> _Word:
    wet = required.environment & WET
    if wet and given in METALS_THAT_RUST:
        return _Word(
            Outcome.NO,
            f"{_said(given).capitalize()} for {_said(required.material)}: it rusts there ({_places(wet)}) and sheds rust into the product.",
        )
    return _Word(
        Outcome.REVIEW,
        f"{_said(given).capitalize()} for {_said(required.material)}: someone has to say that this place allows it.",
    )


def _weaker(required: Requirement, given: Material) -> _Word:
    return _Word(
        Outcome.REVIEW,
        f"{_said(given).capitalize()} for {_said(required.material)}: less strong or less tough; have the load looked at.",
    )


def _stainless_for_steel(required: Requirement, given: Material) -> _Word:
    return _Word(
        Outcome.REVIEW,
        "Stainless does not rust, but its teeth cannot be hardened: reported to wear 2.5 to 4 times as fast. Better in one way, worse in another.",
    )


def _metal_for_plastic(required: Requirement, given: Material) -> _Word:
    if given in METALS_THAT_RUST:
        return _rust_or_review(required, given)
    return _Word(
        Outcome.REVIEW,
        "Metal for plastic: noise, product contact, a ban on oil and chain wear have to be looked at.",
    )


_Rule = Callable[[Requirement, Material], _Word]
_STEELS = (Material.CARBON_STEEL, Material.ALLOY_STEEL, Material.SINTERED_STEEL)
_RULES: dict[tuple[Material, Material], _Rule] = {
    (Material.CAST_IRON, Material.CARBON_STEEL): _better,
    (Material.CAST_IRON, Material.ALLOY_STEEL): _better,
    (Material.CARBON_STEEL, Material.ALLOY_STEEL): _better,
    (Material.SINTERED_STEEL, Material.CARBON_STEEL): _better,
    (Material.SINTERED_STEEL, Material.ALLOY_STEEL): _better,
    (Material.ALLOY_STEEL, Material.CARBON_STEEL): _weaker,
    (Material.CARBON_STEEL, Material.SINTERED_STEEL): _weaker,
    (Material.ALLOY_STEEL, Material.SINTERED_STEEL): _weaker,
    (Material.CAST_IRON, Material.SINTERED_STEEL): _weaker,
    (Material.CAST_IRON, Material.STAINLESS_STEEL): _stainless_for_steel,
    **{(steel, Material.STAINLESS_STEEL): _stainless_for_steel for steel in _STEELS},
    **{(Material.PLASTIC, metal): _metal_for_plastic for metal in Material if metal is not Material.PLASTIC},
}


def _grade(required: Requirement, offered: Specification) -> tuple[Finding, ...]:
    """304 for 316 pits where chlorides are."""
    both_stainless = required.material is offered.material is Material.STAINLESS_STEEL
    if not both_stainless or not required.material_grade or required.material_grade == offered.material_grade:
        return ()
    chlorides = Environment.CHLORIDE in required.environment
    if offered.material_grade is None:
        return (
            not_known(
                Aspect.MATERIAL,
                fact(
                    "text",
                    text=f"The place wants {required.material_grade}; the candidate's grade is not recorded: look for a stamp.",
                ),
                required=required.material_grade,
            ),
        )
    wanted, given = stainless_grade(required.material_grade), stainless_grade(offered.material_grade)
    if wanted == given or (wanted, given) == ("304", "316"):
        return ()
    if (wanted, given) == ("316", "304"):
        return (
            Finding(
                aspect=Aspect.MATERIAL,
                outcome=Outcome.NO if chlorides else Outcome.REVIEW,
                required=required.material_grade,
                offered=offered.material_grade,
                facts=(
                    fact(
                        "text",
                        text="304 for 316: without molybdenum it pits where chlorides are."
                        + ("" if chlorides else " None are recorded here: have it looked at."),
                    ),
                ),
                sources=(
                    fact(
                        "text",
                        text="304 pitted at 180 ppm chloride, guideline about 80 ppm against 400 ppm: trade article, indicative",
                    ),
                ),
            ),
        )
    return (
        Finding(
            aspect=Aspect.MATERIAL,
            outcome=Outcome.REVIEW,
            required=required.material_grade,
            offered=offered.material_grade,
            facts=(
                fact(
                    "text",
                    text=f"{offered.material_grade} for {required.material_grade}: another stainless grade; someone has to say that this place allows it.",
                ),
            ),
            sources=(
                fact("text", text="judgement: grades that were not compared in a source are not ranked"),
            ),
        ),
    )


def stainless_grade(text: str) -> str:
    """The plain number behind the ways in which a grade is written, for the two grades that matter here.

    Source: EN 10088 numbers of the AISI grades, common practice.

    Examples
    --------
    >>> stainless_grade("1.4404"), stainless_grade("AISI 304L"), stainless_grade("430")
    ('316', '304', '430')
    """
    plain = text.strip().upper()
    for grade, names in STAINLESS_NAMES.items():
        if any(name in plain for name in names):
            return grade
    return plain


def check_tooth_hardness(
    required: Requirement, offered: Specification, practice: Practice
) -> tuple[Finding, ...]:
    """Hardened teeth where they are asked for."""
    if required.hardened_teeth is None and Environment.ABRASIVE in required.environment:
        return (_in_grit(offered),)
    if required.hardened_teeth is None:
        return (
            not_asked(
                Aspect.TOOTH_HARDNESS,
                fact("text", text="Whether this place wants hardened teeth is not recorded."),
            ),
        )
    if not required.hardened_teeth:
        more = " The candidate's are: it wears less." if offered.hardened_teeth else ""
        return (
            Finding(
                aspect=Aspect.TOOTH_HARDNESS,
                outcome=Outcome.OK,
                required=False,
                offered=offered.hardened_teeth,
                facts=(fact("text", text=f"Hardened teeth are not asked for.{more}"),),
            ),
        )
    if offered.material in {Material.STAINLESS_STEEL, Material.PLASTIC} and not (
        offered.hardened_teeth and offered.material is required.material
    ):
        return (_soft(offered, "cannot be hardened"),)
    if offered.hardened_teeth is None:
        return (
            not_known(
                Aspect.TOOTH_HARDNESS,
                fact(
                    "text",
                    text="Hardened teeth are asked for; whether the candidate's are is not recorded: try a file on a tooth.",
                ),
                required=True,
            ),
        )
    if not offered.hardened_teeth:
        return (_soft(offered, "are not hardened"),)
    return (
        Finding(
            aspect=Aspect.TOOTH_HARDNESS,
            outcome=Outcome.OK,
            required=True,
            offered=True,
            facts=(fact("text", text="Hardened teeth on both; the hub stays soft and can be bored."),),
        ),
    )


def _in_grit(offered: Specification) -> Finding:
    """Nothing says what the teeth must be, but the place is abrasive: soft teeth are for review, never refused."""
    if offered.hardened_teeth is None:
        return not_known(
            Aspect.TOOTH_HARDNESS,
            fact(
                "text",
                text="An abrasive place, and whether the candidate's teeth are hardened is not recorded: try a file on a tooth.",
            ),
            required="abrasive place",
        )
    return Finding(
        aspect=Aspect.TOOTH_HARDNESS,
        outcome=Outcome.OK if offered.hardened_teeth else Outcome.REVIEW,
        required="abrasive place",
        offered=offered.hardened_teeth,
        facts=(
            fact(
                "text",
                text="Hardened teeth, as an abrasive place likes them."
                if offered.hardened_teeth
                else "An abrasive place and teeth that are not hardened: grit eats them; have it looked at.",
            ),
        ),
        sources=(fact("text", text="rule T4: from memory, decides nothing alone"),),
    )


def _soft(offered: Specification, why: str) -> Finding:
    return Finding(
        aspect=Aspect.TOOTH_HARDNESS,
        outcome=Outcome.REVIEW,
        required=True,
        offered=offered.hardened_teeth,
        facts=(
            fact(
                "text",
                text=f"Hardened teeth are asked for and this candidate's {why}: for a short time, slow or lightly loaded, and noted; teeth wear faster, then the chain.",
            ),
        ),
        sources=(
            fact(
                "text",
                text="rule T2: trade pages name 35 to 55 HRC for hardened teeth; conditional use is common practice",
            ),
        ),
    )
