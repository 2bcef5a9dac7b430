"""Declared safety properties, and the cautions that go with every answer."""

from inventory.facts import Fact, fact
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Requirement, Specification, Verdict, not_known
from inventory.interchange.vocabulary import Aspect, Environment, Material, Operation, Outcome

ISOLATION = "Isolate and lock out the drive and prove it dead before the guard comes off; follow the site's own permit and the local rules."
STORED_ENERGY = (
    "Release stored energy first: hanging loads, tensioned chain, backstops, springs, inclined conveyors."
)
GUARDS = "Refit every guard before restarting; turn the drive by hand first, a larger part may foul it."
COMPETENT = "This answer says what was checked and what was not; a competent person decides."
HOT_WORK = "Welding needs the site's hot-work permit and a qualified welder; keep the teeth cool."
DUST = "Grinding, welding and sparking tools are not allowed in a dust or explosive zone: take the part out to the shop."


def check_declarations(required: Requirement, offered: Specification) -> tuple[Finding, ...]:
    """Food contact and non-sparking are hard requirements: never crossed."""
    found: list[Finding] = []
    if required.food_contact_required:
        found += _declared("food contact", offered.food_contact)
    if required.non_sparking_required:
        found += _declared("non-sparking", offered.non_sparking)
    if (
        Environment.EXPLOSIVE in required.environment
        and offered.material not in {None, required.material}
        and required.material is not None
    ):
        found.append(
            Finding(
                aspect=Aspect.DUTY,
                outcome=Outcome.NO,
                required=required.material.value,
                offered=offered.material.value if offered.material else None,
                facts=(
                    fact("text", text="An explosive zone is never crossed by a part of another material."),
                ),
                sources=(fact("text", text="safety property: a hard constraint"),),
            )
        )
    return tuple(found)


def _declared(property_name: str, declared: bool | None) -> list[Finding]:
    if declared is None:
        return [
            not_known(
                Aspect.DUTY,
                fact(
                    "text",
                    text=f"This place needs a part declared {property_name}; nothing is declared for the candidate: ask for the paper, do not assume it.",
                ),
                required=property_name,
            )
        ]
    if not declared:
        return [
            Finding(
                aspect=Aspect.DUTY,
                outcome=Outcome.NO,
                required=property_name,
                offered=False,
                facts=(
                    fact(
                        "text",
                        text=f"This place needs a part declared {property_name}; the candidate is not.",
                    ),
                ),
                sources=(fact("text", text="safety property: a hard constraint"),),
            )
        ]
    return [
        Finding(
            aspect=Aspect.DUTY,
            outcome=Outcome.OK,
            required=property_name,
            offered=True,
            facts=(fact("text", text=f"Declared {property_name}."),),
            sources=(fact("text", text="declaration as recorded"),),
        )
    ]


def cautions_for(
    verdict: Verdict, *, required: Requirement, offered: Specification, practice: Practice
) -> tuple[Fact, ...]:
    """The usual cautions, and those that this candidate's work asks for."""
    cautions = [ISOLATION, STORED_ENERGY, GUARDS]
    operations = {step.operation for step in verdict.work}
    if Environment.EXPLOSIVE in required.environment:
        cautions.append(DUST)
    if Operation.WELD_HUB in operations:
        cautions.append(HOT_WORK)
    if Operation.CHANGE_BUSH in operations:
        cautions.append(
            "No grease or anti-seize on the bush's cone; tighten to the bush's own sheet and retighten after the first hour."
        )
    if offered.mass_kg is not None and offered.mass_kg >= practice.thresholds.heavy_mass_kg:
        cautions.append(f"{offered.mass_kg:g} kg: use lifting gear.")
    if offered.material is Material.CAST_IRON:
        cautions.append("Cast iron: no hammer on the rim.")
    return tuple(fact("text", text=caution) for caution in (*cautions, COMPETENT))
