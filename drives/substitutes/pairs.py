"""Both sprockets changed together so that the ratio holds: planned work, never a counter answer."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from drives.chain.take_up import TakeUp, take_up
from drives.models import Drive, Position
from drives.place.duty import Duty
from drives.place.ratio_check import present_links
from drives.place.verdict import judge_for_place
from drives.substitutes.requirement import PlaceAsked, place_asked
from inventory.catalogue.candidates import Candidate, TeethSpan, judged, shortlist
from inventory.catalogue.plant_practice import current_practice
from inventory.catalogue.stock_on_hand import CompanionStock
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import GRADE_RANK, Grade, Operation, PositionRole

MOST_PAIRS = 50
SAME_RATIO_PERCENT = 1e-6
"""Where a drive has no ratio tolerance recorded, only the same ratio is offered; this much is rounding."""


@dataclass(frozen=True)
class Pair:
    """A driver and a driven from the shelves, with what the drive becomes on them."""

    driver: Candidate
    driven: Candidate
    driver_verdict: Verdict
    driven_verdict: Verdict
    ratio: float
    ratio_change_percent: float
    links: int
    centre_mm: float
    centre_shift_mm: float
    keeps_chain: bool
    fits: bool | None
    utilisation: float | None
    explanation: str

    @property
    def available(self) -> int:
        return min(self.driver.available, self.driven.available)


@dataclass(frozen=True)
class PairAnswer:
    pairs: tuple[Pair, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Sides:
    """The two places of a drive, and what is looked at on their behalf: loaded once."""

    driver: PlaceAsked
    driven: PlaceAsked
    practice: Practice
    stock: CompanionStock

    @property
    def links(self) -> int | None:
        return present_links(self.driver.required, self.driver.duty)

    def judge(self, asked: PlaceAsked, offered: Sprocket, duty: Duty) -> Verdict:
        """The verdict at the candidate's own count: in a pair the other sprocket makes up for it."""
        at_its_count = replace(asked.required, teeth=offered.teeth, single_cut=offered.single_cut)
        return judge_for_place(
            at_its_count, offered, duty=duty, practice=self.practice, bushes=self.stock.bushes_at_hand()
        )


def substitute_pairs(drive: Drive) -> PairAnswer:
    """Pairs from the shelves that keep the ratio of a drive, nearest ratio first; each at best for review.

    The drive is loaded with its equipment and positions. The number of queries does not depend on the number of pairs.
    """
    sides = _sides(list(drive.positions.all()))
    if isinstance(sides, str):
        return PairAnswer((), (sides,))
    if drive.lifting:
        return PairAnswer((), ("This drive lifts or carries people: no pair is offered.",))
    known = _known(sides)
    if known is None:
        return PairAnswer(
            (), ("Teeth of both sprockets and links or centre distance have to be recorded first.",)
        )
    found = sorted(_pairs(sides, known), key=_preference)[:MOST_PAIRS]
    notes = () if found else ("No two sprockets on the shelves keep the ratio of this drive.",)
    return PairAnswer(tuple(found), notes)


def _sides(positions: list[Position]) -> _Sides | str:
    by_role = {
        role: [p for p in positions if p.role == role] for role in (PositionRole.DRIVER, PositionRole.DRIVEN)
    }
    if any(len(found) != 1 for found in by_role.values()):
        return "A pair needs one driver and one driven position on the drive."
    return _Sides(
        place_asked(by_role[PositionRole.DRIVER][0]),
        place_asked(by_role[PositionRole.DRIVEN][0]),
        current_practice(),
        CompanionStock.load(),
    )


@dataclass(frozen=True)
class _Before:
    """Effective teeth and chain length that the drive has now."""

    driver_teeth: float
    driven_teeth: float
    links: int


def _known(sides: _Sides) -> _Before | None:
    driver, driven = (
        sides.driver.required.effective_teeth,
        sides.driven.required.effective_teeth,
    )
    links = sides.links
    return None if driver is None or driven is None or links is None else _Before(driver, driven, links)


def _pairs(sides: _Sides, before: _Before) -> Iterator[Pair]:
    tolerance = sides.driver.duty.ratio_tolerance_percent or SAME_RATIO_PERCENT
    drivers, drivens = _on_shelves(sides, sides.driver), _on_shelves(sides, sides.driven)
    for driver in drivers:
        for driven in drivens:
            teeth = (_teeth(sides.driver, driver), _teeth(sides.driven, driven))
            change = 100 * (before.driven_teeth / before.driver_teeth * teeth[0] / teeth[1] - 1)
            same = teeth == (before.driver_teeth, before.driven_teeth)
            enough = driver.item.pk != driven.item.pk or driver.available > 1
            if abs(change) <= tolerance and not same and enough:
                pair = _pair(sides, driver, driven, before, change)
                if pair is not None:
                    yield pair


def _teeth(asked: PlaceAsked, candidate: Candidate) -> float:
    """Effective teeth on this chain; candidates without a count were left out before."""
    return candidate.attributes.effective_teeth_under(asked.required.chain) or 0.0


def _on_shelves(sides: _Sides, asked: PlaceAsked) -> list[Candidate]:
    """Candidates of any count that fit in everything but their count, and lie on a shelf."""
    items = shortlist(asked.required, TeethSpan(None, None), sides.practice)
    candidates = judged(items, lambda offered: sides.judge(asked, offered, Duty(lifting=False)))
    return [c for c in candidates if c.available and c.verdict.grade is not Grade.UNFIT and not c.is_guess]


def _has_bushes(sides: _Sides, driver: Candidate, driven: Candidate) -> bool:
    """Where both need a bush of one size and bore, there must be two: a shared one is not counted twice."""
    wanted = [_bush_to_fetch(sides.driver, driver), _bush_to_fetch(sides.driven, driven)]
    if wanted[0] is None or wanted[0] != wanted[1]:
        return True
    return sum(row.shelf.available for row in sides.stock.bushes(*wanted[0])) > 1


def _bush_to_fetch(asked: PlaceAsked, candidate: Candidate) -> tuple[str, float] | None:
    shaft, size = asked.required.shaft, candidate.attributes.bush_size
    changes = any(step.operation is Operation.CHANGE_BUSH for step in candidate.verdict.work)
    if not changes or size is None or shaft is None or shaft.diameter_mm is None:
        return None
    return size.upper(), shaft.diameter_mm


def _pair(sides: _Sides, driver: Candidate, driven: Candidate, before: _Before, change: float) -> Pair | None:
    taken = _taken_up(sides, driver, driven, before)
    if taken is None or taken.fits is False or not _has_bushes(sides, driver, driven):
        return None
    on_driver, on_driven = (
        _with_mate(sides, sides.driver, driver, driven),
        _with_mate(sides, sides.driven, driven, driver),
    )
    if Grade.UNFIT in (on_driver.grade, on_driven.grade):
        return None
    return Pair(
        driver=driver,
        driven=driven,
        driver_verdict=on_driver,
        driven_verdict=on_driven,
        ratio=round(_teeth(sides.driven, driven) / _teeth(sides.driver, driver), 5),
        ratio_change_percent=round(change, 3),
        links=taken.links,
        centre_mm=round(taken.centre_mm, 2),
        centre_shift_mm=round(taken.centre_shift_mm, 2),
        keeps_chain=taken.keeps_chain,
        fits=taken.fits,
        utilisation=on_driver.consequences.rating_utilisation,
        explanation=_sentence(driver, driven, change, taken),
    )


def _taken_up(sides: _Sides, driver: Candidate, driven: Candidate, before: _Before) -> TakeUp | None:
    chain, duty = sides.driver.required.chain, sides.driver.duty
    if chain is None:
        return None
    try:
        return take_up(
            chain.pitch_mm,
            z1=before.driver_teeth,
            z2=before.driven_teeth,
            links=before.links,
            new_z1=_teeth(sides.driver, driver),
            new_z2=_teeth(sides.driven, driven),
            centre_mm=duty.centre_distance_mm,
            adjustment_mm=duty.adjustment_mm,
        )
    except ValueError:
        return None


def _with_mate(sides: _Sides, asked: PlaceAsked, own: Candidate, mate: Candidate) -> Verdict:
    """What only the pair shows: rating and torque under the drive's real duty, with the other sprocket as its mate."""
    return sides.judge(asked, own.attributes, replace(asked.duty, mating_teeth=mate.attributes.teeth))


def _sentence(driver: Candidate, driven: Candidate, change: float, taken: TakeUp) -> str:
    speed = (
        "the speed stays"
        if abs(change) < 0.005
        else f"the driven shaft runs {abs(change):.1f} % {'faster' if change > 0 else 'slower'}"
    )
    way = "further apart" if taken.centre_shift_mm > 0 else "closer"
    chain = "the same chain" if taken.keeps_chain else f"a chain of {taken.links} links"
    reach = "" if taken.fits else "; how far the shafts can be moved is not recorded"
    return (
        f"{driver.attributes.teeth} and {driven.attributes.teeth} teeth: {speed}; {chain}, the shafts {abs(taken.centre_shift_mm):.1f} mm {way}{reach}. "
        "Two parts, chain length and chain speed change: planned work, with approval."
    )


def _preference(pair: Pair) -> tuple[object, ...]:
    worst = max(GRADE_RANK[pair.driver_verdict.grade], GRADE_RANK[pair.driven_verdict.grade])
    return (
        abs(pair.ratio_change_percent) > 0.005,
        worst,
        not pair.keeps_chain,
        abs(pair.centre_shift_mm),
        pair.driver.item.stock_number,
        pair.driven.item.stock_number,
    )
