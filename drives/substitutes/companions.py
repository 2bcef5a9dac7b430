"""What goes with a candidate: the bush, the key and the chain, and whether they are available."""

from dataclasses import dataclass

from inventory.catalogue.stock_on_hand import CompanionShelf, StockOnHand
from inventory.facts import Fact, fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Verdict
from inventory.interchange.key import HubKeyseat, is_less_deep, keyseat_for
from inventory.interchange.requirement import Requirement, Shaft, Sprocket
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.vocabulary import Operation, ShaftKind
from inventory.stocking.chain_pieces import jobs_served

MOST_PIECES_NAMED = 5
MOST_SHELVES_NAMED = 4


@dataclass(frozen=True, kw_only=True)
class Companion:
    """One thing that goes with the sprocket. `quantity` is in pieces or links; None where it is not known.

    Chain is one piece, or several with up to `joints` joints between them.
    """

    kind: str
    needed: Fact
    must_fetch: bool = False
    quantity: int | None = 1
    shelves: tuple[CompanionShelf, ...] = ()
    note: Fact | None = None
    joints: int = 0

    @property
    def available(self) -> int:
        return sum(row.shelf.available for row in self.shelves)

    @property
    def nearest_shelves(self) -> tuple[CompanionShelf, ...]:
        """The first to be named; those without a recorded way come last."""
        minutes = sorted(
            self.shelves,
            key=lambda row: (row.shelf.transfer_minutes is None, row.shelf.transfer_minutes or 0),
        )
        return tuple(minutes[:MOST_SHELVES_NAMED])

    @property
    def further_shelves(self) -> int:
        """Of those looked at, how many are not among the nearest."""
        return max(len(self.shelves) - MOST_SHELVES_NAMED, 0)

    @property
    def is_short(self) -> bool:
        return self.must_fetch and not self.serving_shelves

    @property
    def serving_shelves(self) -> tuple[CompanionShelf, ...]:
        """Those with enough; none where it is not known how much is needed."""
        return tuple(row for row in self.shelves if self._serves(row))

    def _serves(self, row: CompanionShelf) -> bool:
        if self.quantity is None:
            return False
        if self.kind == "chain":
            return jobs_served(row.piece_links, self.quantity, joints=self.joints) > 0
        return row.shelf.available >= self.quantity


def companions_for(
    required: Requirement, offered: Sprocket, verdict: Verdict, *, stock: StockOnHand, practice: Practice
) -> tuple[Companion, ...]:
    """Bush, key and chain for one candidate; no query."""
    limits = practice.thresholds
    bush, key = _bush(required, offered, stock, limits), _key(required, stock, limits)
    found = (bush, key, *_chain(required, verdict, stock, practice.chain_joints))
    return tuple(companion for companion in found if companion is not None)


def _bush(
    required: Requirement, offered: Sprocket, stock: StockOnHand, limits: Thresholds
) -> Companion | None:
    shaft, size = required.shaft, offered.bush_size
    if not is_bushed(offered) or not size or shaft is None:
        return None
    stays = (shaft.bush_size or "").upper() == size.upper()
    needed = fact("bush_needed", bush_size=size, bore_mm=shaft.diameter_mm)
    if shaft.diameter_mm is None:
        note = fact("companion_shaft_diameter_not_recorded")
        return Companion(kind="bush", needed=needed, must_fetch=not stays, note=note)
    bushes = stock.bushes(size, shaft.diameter_mm, limits)
    as_wide = tuple(row for row in bushes if _has_keyway(row, shaft, limits))
    rows = tuple(row for row in as_wide if _is_deep_enough(row, shaft)) or as_wide
    stay = fact("bush_on_shaft_stays") if stays else None
    return Companion(kind="bush", needed=needed, must_fetch=not stays, shelves=rows, note=stay)


def _has_keyway(row: CompanionShelf, shaft: Shaft, limits: Thresholds) -> bool:
    """The same bore does not imply the same key; a bush whose keyway is not recorded is shown."""
    own, required = row.keyway_width_mm, keyseat_for(shaft).width_mm
    return own is None or required is None or limits.is_same_size(own, required)


def _is_deep_enough(row: CompanionShelf, shaft: Shaft) -> bool:
    own_mm, needed_mm = row.keyway_depth_mm, keyseat_for(shaft).hub_depth_mm
    return own_mm is None or needed_mm is None or not is_less_deep(own_mm, needed_mm)


def _key(required: Requirement, stock: StockOnHand, limits: Thresholds) -> Companion | None:
    shaft = required.shaft
    if shaft is None or shaft.kind is not ShaftKind.KEYED:
        return None
    keyseat = keyseat_for(shaft)
    needed = fact("key_needed", **keyseat.values)
    if keyseat.width_mm is None:
        return Companion(kind="key", needed=needed, note=fact("key_to_be_measured"))
    rows = tuple(row for row in stock.keys(keyseat.width_mm, limits) if _same_height(row, keyseat, limits))
    is_remembered = any(estimate.name != "keyway_depth_mm" for estimate in keyseat.estimates)
    note = fact("key_to_be_measured" if is_remembered else "key_used_again")
    return Companion(kind="key", needed=needed, shelves=rows, note=note)


def _same_height(row: CompanionShelf, keyseat: HubKeyseat, limits: Thresholds) -> bool:
    height_mm = row.key_height_mm
    return height_mm is None or keyseat.height_mm is None or limits.is_same_size(height_mm, keyseat.height_mm)


def _chain(required: Requirement, verdict: Verdict, stock: StockOnHand, joints: int) -> tuple[Companion, ...]:
    chain, strands, links = required.chain, required.strands, verdict.consequences.chain_links
    if chain is None or chain.designation is None or strands is None:
        return ()
    is_new = any(step.operation is Operation.FIT_CHAIN for step in verdict.work)
    rows = tuple(stock.chains(chain.designation, strands))
    kind = {"designation": chain.designation, "strands": strands}
    return (
        Companion(
            kind="chain",
            needed=fact("chain_needed", **kind, links=links),
            must_fetch=is_new,
            quantity=links,
            shelves=rows,
            note=_length_note(rows, links, joints) if is_new else fact("chain_stays"),
            joints=joints,
        ),
        Companion(
            kind="joining_link",
            needed=fact("joining_link_needed", **kind),
            shelves=tuple(stock.links(chain.designation, strands)),
            note=fact("joining_link_for_new_chain") if is_new else None,
        ),
    )


def _length_note(rows: tuple[CompanionShelf, ...], links: int | None, joints: int) -> Fact:
    """Whether one piece is long enough: two pieces do not make a chain without saying so, and only with the joints allowed."""
    pieces = sorted((length for row in rows for length in row.piece_links), reverse=True)
    if not pieces:
        return fact("chain_none_available")
    if links is None:
        return fact("chain_length_not_recorded", longest_links=pieces[0])
    if pieces[0] >= links:
        return fact("chain_piece_long_enough", longest_links=pieces[0])
    if any(jobs_served(row.piece_links, links, joints=joints) for row in rows):
        return fact("chain_to_be_joined", links=links, joints=joints, longest_links=pieces[0])
    return fact("chain_pieces_too_short", piece_links=tuple(pieces[:MOST_PIECES_NAMED]))
