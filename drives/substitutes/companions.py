"""What goes with a candidate: the bush, the key and the chain, and whether they are free on a shelf."""

from dataclasses import dataclass

from inventory.catalogue.stock_on_hand import CompanionShelf, CompanionStock
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Verdict
from inventory.interchange.key import HubKeyseat, keyseat_for
from inventory.interchange.requirement import Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import Operation, ShaftKind
from inventory.standards.sizes import same_nominal


@dataclass(frozen=True)
class Companion:
    """One thing that goes with the sprocket: what, whether it must be fetched, and where it lies."""

    kind: str
    needed: str
    must_fetch: bool
    quantity: int | None
    shelves: tuple[CompanionShelf, ...]
    note: str = ""

    @property
    def available(self) -> int:
        return sum(row.shelf.available for row in self.shelves)

    @property
    def is_short(self) -> bool:
        return self.must_fetch and not self.serving_storerooms()

    def serving_storerooms(self) -> set[int]:
        """Storerooms whose shelf is enough; none where it is not known how much is needed."""
        return {row.shelf.storeroom_id for row in self.shelves if self._serves(row)}

    def _serves(self, row: CompanionShelf) -> bool:
        if self.quantity is None:
            return False
        if self.kind == "chain":
            return max(row.piece_links, default=0) >= self.quantity
        return row.shelf.available >= self.quantity


def companions_for(
    required: Requirement, offered: Sprocket, verdict: Verdict, links: int | None, stock: CompanionStock
) -> tuple[Companion, ...]:
    """Bush, key and chain for one candidate, looked up in stock that is loaded already."""
    found = (
        _bush(required, offered, stock),
        _key(required, offered, stock),
        *_chain(required, verdict, links, stock),
    )
    return tuple(companion for companion in found if companion is not None)


def _bush(required: Requirement, offered: Sprocket, stock: CompanionStock) -> Companion | None:
    shaft, size = required.shaft, offered.bush_size
    if not is_bushed(offered) or not size or shaft is None:
        return None
    stays = bool(shaft.bush_size) and (shaft.bush_size or "").upper() == size.upper()
    if shaft.diameter_mm is None:
        return Companion(
            "bush", f"{size}, bore not recorded", not stays, 1, (), "The shaft's diameter is not recorded."
        )
    note = "The bush on the shaft stays; one on the shelf is for safety." if stays else ""
    return Companion(
        "bush",
        f"{size}, bore {shaft.diameter_mm:g} mm",
        not stays,
        1,
        tuple(row for row in stock.bushes(size, shaft.diameter_mm) if _has_keyway(row, shaft)),
        note,
    )


def _has_keyway(row: CompanionShelf, shaft: Shaft) -> bool:
    """The same bore does not imply the same key; a keyway that is not recorded has to be looked at."""
    own, wanted = row.specification.keyway_width_mm, keyseat_for(shaft).width_mm
    return own is None or wanted is None or same_nominal(own, wanted)


def _key(required: Requirement, offered: Sprocket, stock: CompanionStock) -> Companion | None:
    shaft = required.shaft
    if shaft is None or shaft.kind is not ShaftKind.KEYED:
        return None
    keyseat = keyseat_for(shaft)
    if keyseat.width_mm is None:
        return Companion("key", "not recorded", False, 1, (), "Measure the key on the shaft.")
    rows = tuple(row for row in stock.keys(keyseat.width_mm) if _same_height(row, keyseat))
    return Companion(
        "key",
        keyseat.size,
        False,
        1,
        rows,
        "The key on the shaft is used again unless it is rolled or sheared.",
    )


def _same_height(row: CompanionShelf, keyseat: HubKeyseat) -> bool:
    height = row.specification.key_height_mm
    return height is None or keyseat.height_mm is None or abs(float(height) - keyseat.height_mm) < 0.01


def _chain(
    required: Requirement, verdict: Verdict, links: int | None, stock: CompanionStock
) -> list[Companion]:
    chain, strands = required.chain, required.strands
    if chain is None or chain.designation is None or strands is None:
        return []
    must_fetch = any(step.operation is Operation.FIT_CHAIN for step in verdict.work)
    length = f", {links} links" if links else ""
    rows = tuple(stock.chains(chain.designation, strands))
    note = (
        _chain_note(rows, links)
        if must_fetch
        else "The chain in place stays unless it is worn; see the wear check."
    )
    found = [Companion("chain", f"{chain.designation}-{strands}{length}", must_fetch, links, rows, note)]
    joining = tuple(stock.links(chain.designation, strands))
    joined = "One joins the new chain; look whether the box holds it already." if must_fetch else ""
    return [*found, Companion("joining_link", f"{chain.designation}-{strands}", False, 1, joining, joined)]


def _chain_note(rows: tuple[CompanionShelf, ...], links: int | None) -> str:
    """One piece that is long enough, or what the pieces are; two pieces do not make a chain without saying so."""
    pieces = sorted((links_ for row in rows for links_ in row.piece_links), reverse=True)
    if not pieces:
        return "No chain of this kind is free on a shelf."
    if links is None:
        return f"The length is not recorded; the longest piece has {pieces[0]} links."
    if pieces[0] >= links:
        return f"The longest piece has {pieces[0]} links: one piece is enough."
    return f"No single piece is long enough; the pieces have {', '.join(map(str, pieces[:5]))} links and would have to be joined."
