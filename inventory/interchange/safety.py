"""Declared safety properties, and the cautions that go with every answer."""

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, Verdict, compared, not_recorded
from inventory.interchange.mass import estimated_mass_kg
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, BoreType, Environment, Material, Outcome

ALWAYS_FIRST = (fact("lock_out"), fact("release_stored_energy"), fact("refit_guards"))
ALWAYS_LAST = fact("competent_person_decides")
HARD_CONSTRAINT = (fact("safety_property"),)


def check_declarations(required: Requirement, offered: Sprocket) -> tuple[Finding, ...]:
    """Food contact and non-sparking are hard requirements: never crossed."""
    found: list[Finding] = []
    if required.food_contact_required:
        found.append(_declared("food_contact", offered.food_contact))
    if required.non_sparking_required:
        found.append(_declared("non_sparking", offered.non_sparking))
    wanted, given = required.material, offered.material
    is_explosive = Environment.EXPLOSIVE in required.environment
    if is_explosive and wanted is not None and given is not None and given is not wanted:
        reason, figures = fact("explosive_zone_never_crossed"), compared(wanted.value, given.value)
        found.append(Finding(Aspect.DUTY, Outcome.NO, (reason,), **figures, sources=HARD_CONSTRAINT))
    return tuple(found)


def _declared(name: str, declared: bool | None) -> Finding:
    if declared is None:
        return not_recorded(Aspect.DUTY, fact("declaration_missing", declaration=name), required=name)
    outcome, code, sources = Outcome.NO, "declared_not", HARD_CONSTRAINT
    if declared:
        outcome, code, sources = Outcome.OK, "declared", (fact("declaration_as_recorded"),)
    facts = (fact(code, declaration=name),)
    return Finding(Aspect.DUTY, outcome, facts, **compared(name, declared), sources=sources)


def cautions_for(
    verdict: Verdict, *, required: Requirement, offered: Sprocket, practice: Practice
) -> tuple[Fact, ...]:
    """The cautions of every answer, and those of this candidate's work, room, mass and material; each once."""
    cautions = list(ALWAYS_FIRST)
    if Environment.EXPLOSIVE in required.environment:
        cautions.append(fact("no_sparks_in_dust_zone"))
    cautions += [caution for step in verdict.work for caution in step.cautions]
    found = [one for finding in verdict.findings for one in finding.facts]
    cautions += [one for one in found if one.code == "little_room_under_guard"]
    if offered.set_screws == 0 and offered.bore_type is BoreType.FINISHED:
        cautions.append(fact("no_set_screws"))
    cautions += _lifting(offered, practice)
    if offered.material is Material.CAST_IRON:
        cautions.append(fact("no_hammer_on_cast_iron"))
    return (*dict.fromkeys(cautions), ALWAYS_LAST)


def _lifting(offered: Sprocket, practice: Practice) -> tuple[Fact, ...]:
    heavy_kg = practice.thresholds.heavy_mass_kg
    if offered.mass_kg is not None:
        return (fact("lifting_gear", mass_kg=offered.mass_kg),) if offered.mass_kg >= heavy_kg else ()
    estimate_kg = estimated_mass_kg(offered)
    if estimate_kg is None or estimate_kg < heavy_kg:
        return ()
    return (fact("lifting_gear_estimated", mass_kg=estimate_kg),)
