"""Material of the rim: may be better, not worse, for this environment and duty. Rules M1 to M10 of common practice."""

from collections.abc import Callable
from dataclasses import dataclass

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, Environment, Material, Outcome, PositionRole

WET = frozenset({Environment.WASHDOWN, Environment.FOOD, Environment.CORROSIVE, Environment.CHLORIDE})
METALS_THAT_RUST = frozenset(
    {Material.CARBON_STEEL, Material.ALLOY_STEEL, Material.CAST_IRON, Material.SINTERED_STEEL}
)
STAINLESS_NAMES = {"316": ("316", "1.4401", "1.4404"), "304": ("304", "1.4301", "1.4307")}
"""EN 10088 numbers of the AISI grades that matter here, common practice."""


CAST_IRON_TEETH = "cast_iron_least_teeth"
RULE_FROM_MEMORY = fact("rule_from_memory")


@dataclass(frozen=True)
class _Opinion:
    outcome: Outcome
    reason: Fact
    turns_on: tuple[Fact, ...] = ()


def check_material(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Material against material, in this environment."""
    wanted, given = required.material, offered.material
    if given is None:
        if wanted is None and not _is_demanding(required):
            return (not_required(Aspect.MATERIAL, fact("neither_material_recorded")),)
        reason = fact("candidate_material_not_recorded")
        return (not_recorded(Aspect.MATERIAL, reason, required=_word(wanted)),)
    opinion = _in_explosive_zone(required, given) or _of_pair(required, given, practice)
    figures, sources = compared(_word(wanted), given.value), (fact("material_rules"),)
    facts = (opinion.reason, *opinion.turns_on)
    found = Finding(Aspect.MATERIAL, opinion.outcome, facts, **figures, sources=sources)
    return (*_stainless_grades(required, offered), found, *_in_heat(required, given))


def _is_demanding(required: Requirement) -> bool:
    return bool(
        required.is_shock_loaded or required.environment & (WET | {Environment.HOT, Environment.EXPLOSIVE})
    )


def _word(material: Material | None) -> str | None:
    return material.value if material else None


def _in_heat(required: Requirement, given: Material) -> tuple[Finding, ...]:
    """For review: the softening point is from memory, and how hot the place gets is not recorded."""
    is_hot = Environment.HOT in required.environment
    if not is_hot or given is not Material.PLASTIC or required.material is Material.PLASTIC:
        return ()
    facts, sources = (fact("plastic_softens_in_heat"), RULE_FROM_MEMORY), (fact("softening_from_memory"),)
    figures = compared(Environment.HOT.value, given.value)
    return (Finding(Aspect.MATERIAL, Outcome.REVIEW, facts, **figures, sources=sources),)


def _in_explosive_zone(required: Requirement, given: Material) -> _Opinion | None:
    """Safety properties are never crossed."""
    if Environment.EXPLOSIVE not in required.environment or given is required.material:
        return None
    if required.material is None:
        return _Opinion(Outcome.REVIEW, fact("explosive_zone_material_not_recorded", material=given.value))
    return _Opinion(Outcome.NO, fact("explosive_zone_other_material", **_pair(required, given)))


def _of_pair(required: Requirement, given: Material, practice: Practice) -> _Opinion:
    wanted = required.material
    if wanted is None:
        return _without_requirement(required, given)
    if wanted is given:
        return _Opinion(Outcome.OK, fact("material_equal", material=given.value))
    if given is Material.PLASTIC:
        return _plastic_for_metal(required)
    if given is Material.CAST_IRON and wanted not in {Material.STAINLESS_STEEL, Material.PLASTIC}:
        return _cast_iron_for_steel(required, practice)
    return _RULES.get((wanted, given), _rust_or_review)(required, given)


def _pair(required: Requirement, given: Material) -> dict[str, str | None]:
    return {"material": given.value, "required_material": _word(required.material)}


def _without_requirement(required: Requirement, given: Material) -> _Opinion:
    if given is Material.CAST_IRON and required.is_shock_loaded:
        return _Opinion(Outcome.REVIEW, fact("position_material_not_recorded_shock"))
    wet = required.environment & WET
    if wet and given in METALS_THAT_RUST:
        reason = fact("position_material_not_recorded_rust", material=given.value, environment=_words(wet))
        return _Opinion(Outcome.REVIEW, reason)
    if given is Material.PLASTIC and not required.is_idler:
        return _Opinion(Outcome.REVIEW, fact("position_material_not_recorded_plastic"))
    return _Opinion(Outcome.OK, fact("position_material_not_recorded", material=given.value))


def _words(environment: frozenset[Environment]) -> tuple[str, ...]:
    return tuple(sorted(word.value for word in environment))


def _plastic_for_metal(required: Requirement) -> _Opinion:
    if required.is_idler:
        return _Opinion(Outcome.REVIEW, fact("plastic_for_metal_on_idler"))
    return _Opinion(Outcome.NO, fact("plastic_for_metal_on_drive"))


def _cast_iron_for_steel(required: Requirement, practice: Practice) -> _Opinion:
    if required.is_shock_loaded:
        return _Opinion(Outcome.NO, fact("cast_iron_under_shock"))

    def is_refused(least_teeth: int) -> bool:
        is_small = required.teeth is not None and required.teeth < least_teeth
        return required.role is PositionRole.DRIVER or is_small

    least, named = practice.thresholds.cast_iron_least_teeth, practice.turns_on(is_refused, CAST_IRON_TEETH)
    outcome, reason = Outcome.REVIEW, fact("cast_iron_for_steel")
    if is_refused(least):
        reason = fact("cast_iron_on_small_or_driver", least_teeth=least)
        outcome = Outcome.REVIEW if named else Outcome.NO
    return _Opinion(outcome, reason, named)


def _stronger(required: Requirement, given: Material) -> _Opinion:
    return _Opinion(Outcome.OK, fact("material_stronger", **_pair(required, given)))


def _weaker(required: Requirement, given: Material) -> _Opinion:
    return _Opinion(Outcome.REVIEW, fact("material_weaker", **_pair(required, given)))


def _rust_or_review(required: Requirement, given: Material) -> _Opinion:
    wet = required.environment & WET
    if not wet or given not in METALS_THAT_RUST:
        return _Opinion(Outcome.REVIEW, fact("material_differs", **_pair(required, given)))
    reason = fact("material_rusts", **_pair(required, given), environment=_words(wet))
    return _Opinion(Outcome.NO, reason)


def _stainless_for_steel(required: Requirement, given: Material) -> _Opinion:
    return _Opinion(Outcome.REVIEW, fact("stainless_for_steel"))


def _metal_for_plastic(required: Requirement, given: Material) -> _Opinion:
    if given in METALS_THAT_RUST:
        return _rust_or_review(required, given)
    return _Opinion(Outcome.REVIEW, fact("metal_for_plastic"))


_Rule = Callable[[Requirement, Material], _Opinion]
_STEELS = (Material.CARBON_STEEL, Material.ALLOY_STEEL, Material.SINTERED_STEEL)
_RULES: dict[tuple[Material, Material], _Rule] = {
    (Material.CAST_IRON, Material.CARBON_STEEL): _stronger,
    (Material.CAST_IRON, Material.ALLOY_STEEL): _stronger,
    (Material.CARBON_STEEL, Material.ALLOY_STEEL): _stronger,
    (Material.SINTERED_STEEL, Material.CARBON_STEEL): _stronger,
    (Material.SINTERED_STEEL, Material.ALLOY_STEEL): _stronger,
    (Material.ALLOY_STEEL, Material.CARBON_STEEL): _weaker,
    (Material.CARBON_STEEL, Material.SINTERED_STEEL): _weaker,
    (Material.ALLOY_STEEL, Material.SINTERED_STEEL): _weaker,
    (Material.CAST_IRON, Material.SINTERED_STEEL): _weaker,
    (Material.CAST_IRON, Material.STAINLESS_STEEL): _stainless_for_steel,
    **{(steel, Material.STAINLESS_STEEL): _stainless_for_steel for steel in _STEELS},
    **{(Material.PLASTIC, metal): _metal_for_plastic for metal in Material if metal is not Material.PLASTIC},
}


def _stainless_grades(required: Requirement, offered: Sprocket) -> tuple[Finding, ...]:
    """304 for 316 pits where chlorides are."""
    wanted, given = required.material_grade, offered.material_grade
    is_stainless = required.material is offered.material is Material.STAINLESS_STEEL
    if is_stainless and not wanted and Environment.CHLORIDE in required.environment:
        return _grade_in_chlorides(given)
    if not is_stainless or not wanted or wanted == given:
        return ()
    if given is None:
        reason = fact("candidate_grade_not_recorded", required_grade=wanted)
        return (not_recorded(Aspect.MATERIAL, reason, required=wanted),)
    pair = (stainless_grade(wanted), stainless_grade(given))
    if pair == ("304", "316") or pair[0] == pair[1]:
        return ()
    outcome, source = Outcome.REVIEW, fact("grades_not_ranked")
    reason = fact("stainless_grade_differs", grade=given, required_grade=wanted)
    if pair == ("316", "304"):
        source, reason = fact("chloride_pitting_article"), fact("grade_304_for_316")
        if Environment.CHLORIDE in required.environment:
            outcome, reason = Outcome.NO, fact("grade_304_for_316_in_chlorides")
    return (Finding(Aspect.MATERIAL, outcome, (reason,), **compared(wanted, given), sources=(source,)),)


def _grade_in_chlorides(given: str | None) -> tuple[Finding, ...]:
    """Stainless is required, of which grade is not recorded, and chlorides are there: only 316 passes without a word."""
    if given is None:
        return (not_recorded(Aspect.MATERIAL, fact("grade_not_recorded_in_chlorides")),)
    if stainless_grade(given) == "316":
        return ()
    code = "grade_304_in_chlorides" if stainless_grade(given) == "304" else "grade_not_compared_in_chlorides"
    figures, sources = compared(None, given), (fact("chloride_pitting_article"),)
    return (Finding(Aspect.MATERIAL, Outcome.REVIEW, (fact(code, grade=given),), **figures, sources=sources),)


def stainless_grade(text: str) -> str:
    """The plain number behind the ways in which a grade is written.

    >>> stainless_grade("1.4404"), stainless_grade("AISI 304L"), stainless_grade("430")
    ('316', '304', '430')
    """
    plain = text.strip().upper()
    for grade, names in STAINLESS_NAMES.items():
        if any(name in plain for name in names):
            return grade
    return plain
