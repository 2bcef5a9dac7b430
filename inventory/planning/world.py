"""What all recommendations of one look share, loaded once."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.planning.case import Case
from inventory.planning.facts import (
    Emergencies,
    ItemFacts,
    LeadTimes,
    Levels,
    Place,
    load_facts,
    load_policies,
)
from inventory.planning.need import Need
from inventory.planning.terms import Targets, Terms, load_targets, load_terms


@dataclass(frozen=True, kw_only=True)
class World:
    lead_times: LeadTimes
    emergencies: Emergencies | None
    terms: Terms
    targets: Targets
    facts: dict[int, ItemFacts]
    policies: dict[Place, Levels]

    def case_of(self, need: Need) -> Case:
        kept_as = None if need.kept_as_id is None else self.facts.get(need.kept_as_id)
        return Case(
            need=need,
            lead_time=self.lead_times.of(need.item_id, need.storeroom_id),
            terms=self.terms,
            target=self.targets.of(need.importance),
            facts=self.facts[need.item_id],
            today=self.policies.get((need.item_id, need.storeroom_id)),
            emergency=self.emergencies.of(need.item_id) if self.emergencies else None,
            kept_as=kept_as.stock_number if kept_as else "",
        )


def load_world(needs: Sequence[Need], *, lead_times: LeadTimes, emergencies: Emergencies | None) -> World:
    """Four queries."""
    kept = {need.kept_as_id for need in needs if need.kept_as_id is not None}
    return World(
        lead_times=lead_times,
        emergencies=emergencies,
        terms=load_terms(),
        targets=load_targets(),
        facts=load_facts({need.item_id for need in needs} | kept),
        policies=load_policies(),
    )
