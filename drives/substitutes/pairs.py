"""Both sprockets changed together so that the ratio holds: planned work, never a counter answer."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from drives.chain.takeup import TakeUp, take_up
from drives.models import Drive, Position
from drives.place.duty import Duty, Place
from drives.place.ratio import present_links
from drives.place.verdict import judge_for_place
from drives.substitutes.requirement import PlaceAsked, place_asked
from inventory.candidates import Candidate, TeethSpan, judged, shortlist
from inventory.interchange.values import Requirement, Specification, Verdict
from inventory.interchange.vocabulary import GRADE_RANK, Aspect, Grade, Outcome, Role
from inventory.practice import current_practice
from inventory.shelves import CompanionStock

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
    """The two places of a drive."""

    driver: PlaceAsked
    driven: PlaceAsked

    @property
    def links(self) -> int | None:
        place = Place(
            required=self.driver.required,
            duty=self.driver.duty,
            offered=Specification(),
            practice=current_practice(),
        )
        return present_links(place)


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
    found = sorted(_pairs(sides, *known), key=_preference)[:MOST_PAIRS]
    notes = () if found else ("No two sprockets on the shelves keep the ratio of this drive.",)
    return PairAnswer(tuple(found), notes)


def _sides(positions: list[Position]) -> _Sides | str:
    by_role = {role: [p for p in positions if p.role == role] for role in (Role.DRIVER, Role.DRIVEN)}
    if any(len(found) != 1 for found in by_role.values()):
        return "A pair needs one driver and one driven position on the drive."
    return _Sides(place_asked(by_role[Role.DRIVER][0]), place_asked(by_role[Role.DRIVEN][0]))


def _known(sides: _Sides) -> tuple[int, int, int] | None:
    driver, driven, links = sides.driver.required.teeth, sides.driven.required.teeth, sides.links
    return None if driver is None or driven is None or links is None else (driver, driven, links)


def _pairs(sides: _Sides, driver_teeth: int, driven_teeth: int, links: int) -> Iterator[Pair]:
    tolerance = sides.driver.duty.ratio_tolerance_percent or SAME_RATIO_PERCENT
    old_ratio = driven_teeth / driver_teeth
    drivers, drivens = _on_shelves(sides.driver), _on_shelves(sides.driven)
    for driver in drivers:
        for driven in drivens:
            ratio = (driven.attributes.teeth or 0) / (driver.attributes.teeth or 1)
            change = 100 * (old_ratio / ratio - 1) if ratio else 100.0
            same = (driver.attributes.teeth, driven.attributes.teeth) == (driver_teeth, driven_teeth)
            enough = driver.item.pk != driven.item.pk or driver.available > 1
            if abs(change) <= tolerance and not same and enough:
                pair = _pair(sides, driver, driven, (driver_teeth, driven_teeth, links), ratio, change)
                if pair is not None:
                    yield pair


def _on_shelves(asked: PlaceAsked) -> list[Candidate]:
    """Candidates of any count that fit in everything but their count, and lie on a shelf."""
    practice, bushes = current_practice(), CompanionStock.load().bushes_at_hand()
    items = shortlist(asked.required, TeethSpan(None, None), practice)
    candidates = judged(
        items,
        lambda offered: judge_for_place(
            _at_its_count(asked.required, offered),
            offered,
            duty=Duty(lifting=False),
            practice=practice,
            bushes=bushes,
        ),
    )
    return [
        c
        for c in candidates
        if c.available and c.attributes.teeth and c.verdict.grade is not Grade.UNFIT and not c.is_guess
    ]


def _at_its_count(required: Requirement, offered: Specification) -> Requirement:
    return (
        required
        if offered.teeth is None
        else replace(required, teeth=offered.teeth, single_cut=offered.single_cut)
    )


def _pair(
    sides: _Sides,
    driver: Candidate,
    driven: Candidate,
    before: tuple[int, int, int],
    ratio: float,
    change: float,
) -> Pair | None:
    taken = _taken_up(sides, driver, driven, before)
    if taken is None or taken.fits is False:
        return None
    verdicts = [
        _with_mate(asked, own, mate)
        for asked, own, mate in ((sides.driver, driver, driven), (sides.driven, driven, driver))
    ]
    if any(_is_refused(verdict) for verdict in verdicts):
        return None
    return Pair(
        driver=driver,
        driven=driven,
        driver_verdict=verdicts[0],
        driven_verdict=verdicts[1],
        ratio=round(ratio, 5),
        ratio_change_percent=round(change, 3),
        links=taken.links,
        centre_mm=round(taken.centre_mm, 2),
        centre_shift_mm=round(taken.centre_shift_mm, 2),
        keeps_chain=taken.keeps_chain,
        fits=taken.fits,
        utilisation=verdicts[0].consequences.rating_utilisation,
        explanation=_sentence(driver, driven, change, taken),
    )


def _taken_up(
    sides: _Sides, driver: Candidate, driven: Candidate, before: tuple[int, int, int]
) -> TakeUp | None:
    chain, duty = sides.driver.required.chain, sides.driver.duty
    if chain is None:
        return None
    try:
        return take_up(
            chain.pitch_mm,
            z1=before[0],
            z2=before[1],
            links=before[2],
            new_z1=driver.attributes.teeth or 0,
            new_z2=driven.attributes.teeth or 0,
            centre_mm=duty.centre_distance_mm,
            adjustment_mm=duty.adjustment_mm,
        )
    except ValueError:
        return None


def _with_mate(asked: PlaceAsked, own: Candidate, mate: Candidate) -> Verdict:
    duty = replace(asked.duty, mating_teeth=mate.attributes.teeth)
    return judge_for_place(_at_its_count(asked.required, own.attributes), own.attributes, duty=duty)


def _is_refused(verdict: Verdict) -> bool:
    """Refused by what only the pair shows: the rating. The rest was judged with the shelves before."""
    return any(f.aspect is Aspect.RATING and f.outcome is Outcome.NO for f in verdict.findings)


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
    worst = max(GRADE_RANK[pair.driver.verdict.grade], GRADE_RANK[pair.driven.verdict.grade])
    return (
        abs(pair.ratio_change_percent) > 0.005,
        worst,
        not pair.keeps_chain,
        abs(pair.centre_shift_mm),
        pair.driver.item.stock_number,
        pair.driven.item.stock_number,
    )
