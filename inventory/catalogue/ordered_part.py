"""What an order says of a delivery that can be measured: the teeth, and bore and keyway where it was ordered finished."""

from dataclasses import dataclass
from typing import Any

from inventory.facts import Fact, fact
from inventory.identification.receiving import OWN_SIZES_MM, ReceivingCheck, ordered_rim, receiving_check
from inventory.interchange.vocabulary import BoreType
from inventory.models import Item, PartKind
from inventory.standards.chains import Chain, find_chain


@dataclass(frozen=True)
class OrderedPart:
    """The teeth that were ordered, and the sizes of the bore where it was ordered finished."""

    chain: Chain
    teeth: int
    strands: int = 1
    single_cut: bool = True
    bore_mm: float | None = None
    keyway_width_mm: float | None = None

    def check(self) -> ReceivingCheck:
        rim = ordered_rim(self.chain, strands=self.strands, single_cut=self.single_cut)
        own = {name: getattr(self, name) for name in OWN_SIZES_MM if getattr(self, name) is not None}
        return receiving_check(rim, self.teeth, own)

    def as_json(self) -> dict[str, Any]:
        return {**vars(self), "chain": self.chain.designation}


def ordered_item(item: Item) -> OrderedPart | Fact:
    """What an item says of its teeth; a fact where that is not enough."""
    part = item.specification
    if part is None or part.kind != PartKind.SPROCKET or not part.chain_designation or part.teeth is None:
        return fact("item_without_teeth_to_check", item=item.stock_number)
    is_finished = part.bore_type == BoreType.FINISHED

    def size(value: Any) -> float | None:
        return float(value) if is_finished and value is not None else None

    return OrderedPart(
        chain=find_chain(part.chain_designation),
        teeth=part.teeth,
        strands=part.strands or 1,
        single_cut=part.single_cut is not False,
        bore_mm=size(part.bore_mm),
        keyway_width_mm=size(part.keyway_width_mm),
    )
