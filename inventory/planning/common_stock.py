"""Which stock counts together: all numbers of a part, and the storerooms that share it, as the current recommendations say."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from inventory.models import Recommendation, RecommendationState, StockPolicy
from inventory.planning.chain_jobs import ChainJobs
from inventory.planning.policy_inputs import ItemStoreroom

KEPT_APART = (RecommendationState.AMENDED, RecommendationState.DECLINED)
"""Who decided otherwise keeps the stock of the storeroom for itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonStock:
    """The part of an item in a storeroom."""

    member_ids: tuple[int, ...]
    home_id: int
    """The storeroom that keeps it."""
    storeroom_ids: tuple[int, ...]
    """Those whose stock counts together, the home first."""
    is_kept: bool = True
    """Under this number, in this storeroom."""
    chain: ChainJobs | None = None

    @property
    def links_per_job(self) -> int:
        """Of chain, the links in which it is counted; 1 of everything else."""
        return self.chain.links_per_job if self.chain else 1


@dataclass(frozen=True, slots=True)
class PolicyGroup:
    """The policies of one part in the storerooms that share it; the first is the one that orders."""

    policies: tuple[StockPolicy, ...]
    stock: CommonStock

    @property
    def policy(self) -> StockPolicy:
        return self.policies[0]


def policy_groups(
    policies: Iterable[StockPolicy], known: Mapping[ItemStoreroom, CommonStock] | None = None
) -> list[PolicyGroup]:
    """Each part once in all storerooms that share it, so that no piece counts twice; one query, none with what is known.

    The policy of what is kept decides, else one of the storeroom that keeps it, else the highest.
    """
    known = load_common_stock() if known is None else known
    found: dict[tuple[int, tuple[int, ...]], list[tuple[StockPolicy, CommonStock]]] = defaultdict(list)
    for policy in policies:
        item, room = policy.item_id, policy.storeroom_id
        alone = CommonStock(member_ids=(item,), home_id=room, storeroom_ids=(room,))
        stock = known.get((item, room), alone)
        found[stock.home_id, stock.member_ids].append((policy, stock))
    return [_group(rows) for rows in found.values()]


def _group(rows: list[tuple[StockPolicy, CommonStock]]) -> PolicyGroup:
    def key(row: tuple[StockPolicy, CommonStock]) -> tuple[object, ...]:
        policy, stock = row
        return not stock.is_kept, stock.home_id != policy.storeroom_id, -policy.order_up_to

    ordered = sorted(rows, key=key)
    return PolicyGroup(tuple(policy for policy, _ in ordered), ordered[0][1])


def load_common_stock(items: Collection[int] | None = None) -> dict[ItemStoreroom, CommonStock]:
    """Of every current recommendation; of the parts of some items, two queries."""
    columns = ("member_ids", "kept_as_id", "kept_in", "chain")
    rows = Recommendation.objects.current().order_by("item_id", "storeroom_id")
    if items is not None:
        own = rows.filter(item__in=items).order_by().values_list("evidence__member_ids", flat=True)
        rows = rows.filter(item__in={*items, *(one for ids in own for one in ids or ())})
    read = [
        (item, room, tuple(sorted({*(ids or ()), item})), *more)
        for item, room, ids, *more in rows.values_list(
            "item_id", "storeroom_id", *(f"evidence__{name}" for name in columns), "state"
        )
    ]
    homes = {(item, room): _home(room, kept_in, state) for item, room, _, _, kept_in, _, state in read}
    rooms = _rooms((ids, homes[item, room], room) for item, room, ids, *_ in read)
    return {
        (item, room): CommonStock(
            member_ids=ids,
            home_id=homes[item, room],
            storeroom_ids=rooms[ids, homes[item, room]],
            is_kept=kept_as is None and homes[item, room] == room,
            chain=ChainJobs(**chain) if chain else None,
        )
        for item, room, ids, kept_as, _, chain, _ in read
    }


def _home(room: int, kept_in: Mapping[str, Any] | None, state: str) -> int:
    return room if kept_in is None or state in KEPT_APART else int(kept_in["storeroom_id"])


def _rooms(
    members: Iterable[tuple[tuple[int, ...], int, int]],
) -> dict[tuple[tuple[int, ...], int], tuple[int, ...]]:
    """By part and home."""
    found: dict[tuple[tuple[int, ...], int], set[int]] = defaultdict(set)
    for ids, home, room in members:
        found[ids, home].add(room)
    return {key: (key[1], *sorted(rooms - {key[1]})) for key, rooms in found.items()}
