"""All sprockets by pitch and tooth count, those alike in what is checked first together: a position looks only at its own."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property
from hashlib import sha256
from typing import Any

from drives.place.duty import Duty, PlacedPart
from drives.place.duty_checks import check_fast_driver
from drives.place.missing_attributes import FITTING, fillings, left_for_lack
from drives.place.rating_check import check_rating
from drives.place.torque_check import check_torque
from inventory.catalogue.shortlist import ToothRange, has_pitch_near
from inventory.interchange.engagement import check_chain
from inventory.interchange.findings import Finding
from inventory.interchange.hub import check_hub
from inventory.interchange.material import check_material
from inventory.interchange.mounting import check_mounting
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.strands import check_strands
from inventory.interchange.teeth import check_teeth
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import HubStyle, Outcome

Check = Callable[[PlacedPart], tuple[Finding, ...]]


def _of_part(*checks: Callable[[Requirement, Sprocket, Practice], tuple[Finding, ...]]) -> tuple[Check, ...]:
    return tuple(lambda part, check=one: check(part.required, part.offered, part.practice) for one in checks)


def _hub(part: PlacedPart) -> tuple[Finding, ...]:
    """A bolted rim is compared in all that is recorded of it: that is left to the verdict."""
    if part.offered.hub_style is HubStyle.FLANGED:
        return ()
    return check_hub(part.required, part.offered, part.practice)


def _rating(part: PlacedPart) -> tuple[Finding, ...]:
    return () if part.required.is_idler else (check_rating(part).finding,)


def _load(part: PlacedPart) -> tuple[Finding, ...]:
    return () if part.required.is_idler else (*check_torque(part), *check_fast_driver(part))


@dataclass(frozen=True, kw_only=True)
class FirstChecks:
    """Checks that refuse most sprockets, and all that they read of a position and of a sprocket; a test holds them to it.

    What one of them refuses or leaves to a person is made no better by any other check.
    """

    checks: tuple[Check, ...]
    required: tuple[str, ...]
    offered: tuple[str, ...]
    duty: tuple[str, ...] = ()


OF_RIM = FirstChecks(
    checks=_of_part(check_teeth, check_strands, check_chain),
    required=("chain", "teeth", "single_cut", "minimum_teeth", "role", "strands", "interface", "envelope"),
    offered=("chain", "teeth", "single_cut", "strands", "tooth_width_mm"),
)
"""Also a drive that takes up another tooth count leaves it to a person."""
OF_MOUNTING = FirstChecks(
    checks=_of_part(check_mounting),
    required=("shaft", "interface", "hub_style", "role"),
    offered=(
        *("bore_type", "bore_mm", "max_bore_mm", "keyway_width_mm", "keyway_depth_mm", "key_standard"),
        *(
            "set_screws",
            "bush_size",
            "hex_across_flats_mm",
            "hub_style",
            "hub_diameter_mm",
            "hub_diameter_2_mm",
        ),
    ),
)
OF_MATERIAL = FirstChecks(
    checks=_of_part(check_material),
    required=("material", "material_grade", "environment", "is_shock_loaded", "role", "teeth"),
    offered=("material", "material_grade"),
)
OF_HUB = FirstChecks(
    checks=(_hub,),
    required=("hub_style", "interface", "envelope"),
    offered=(
        *("hub_style", "bore_type", "bush_size", "length_through_bore_mm"),
        *("strands", "tooth_width_mm", "chain"),
    ),
)
OF_RATING = FirstChecks(
    checks=(_rating,),
    required=("chain", "teeth", "single_cut", "strands", "role"),
    offered=("chain", "teeth", "single_cut"),
    duty=("power_kw", "speed_rpm", "service_factor", "mating_teeth", "teeth_before"),
)
OF_LOAD = FirstChecks(
    checks=(_load,),
    required=("chain", "teeth", "single_cut", "role", "shaft", "interface", "hardened_teeth"),
    offered=(
        *("chain", "teeth", "single_cut", "hardened_teeth"),
        *("bore_type", "bush_size", "length_through_bore_mm"),
    ),
    duty=("power_kw", "speed_rpm", "service_factor", "mating_teeth", "teeth_before"),
)
FIRST = OF_RIM, OF_RATING, OF_MATERIAL, OF_LOAD, OF_HUB, OF_MOUNTING
"""Those in which most sprockets are alike come first, as each walks on only with what is left."""


class FirstAnswer(Enum):
    """What a first check says of a sprocket: `LACKING` where it would pass with what is not recorded."""

    PASSES = 0
    LACKING = 1
    REFUSED = 2


Said = dict[int, FirstAnswer]
"""What one of the first checks said so far of sprockets, by the number of what it reads of them."""


@dataclass(frozen=True)
class _Cell:
    """The sprockets of one pitch and tooth count: `alike` opens to the next check by what each reads, and to items at last."""

    sprockets: Mapping[int, Sprocket]
    alike: Mapping[int, Any]

    def one_of(self, alike: Any) -> Sprocket:
        while isinstance(alike, dict):
            alike = next(iter(alike.values()))
        return self.sprockets[alike[0]]

    @cached_property
    def is_unknown(self) -> bool:
        """Neither chain nor count: it is identified first, and serves nothing until then."""
        part = next(iter(self.sprockets.values()))
        return part.chain is None and part.teeth is None

    @cached_property
    def digest(self) -> bytes:
        return sha256(repr(sorted(self.sprockets.items(), key=lambda one: one[0])).encode()).digest()


class SprocketIndex:
    """Built once; what the first checks say is remembered by what they read."""

    def __init__(self, sprockets: Mapping[int, Sprocket], practice: Practice) -> None:
        self._practice = practice
        self._numbers: dict[tuple[object, ...], int] = {}
        self._said: dict[tuple[object, ...], Said] = defaultdict(dict)
        members: dict[tuple[float | None, int | None], dict[int, Sprocket]] = defaultdict(dict)
        for item, offered in sprockets.items():
            members[None if offered.chain is None else offered.chain.pitch_mm, offered.teeth][item] = offered
        self._cells: dict[float | None, dict[int | None, _Cell]] = defaultdict(dict)
        for (pitch_mm, teeth), found in members.items():
            self._cells[pitch_mm][teeth] = self._cell(found)

    def _cell(self, sprockets: Mapping[int, Sprocket]) -> _Cell:
        alike: dict[int, Any] = {}
        for item, offered in sprockets.items():
            place = alike
            for first in FIRST[:-1]:
                place = place.setdefault(self._number(first, offered), {})
            place.setdefault(self._number(FIRST[-1], offered), []).append(item)
        return _Cell(sprockets, alike)

    def _number(self, first: FirstChecks, offered: Sprocket) -> int:
        read = (first.offered, *(getattr(offered, name) for name in first.offered))
        return self._numbers.setdefault(read, len(self._numbers))

    def digest_near(self, required: Requirement, teeth: ToothRange) -> str:
        """Of all attributes of every sprocket that could engage."""
        return sha256(b"".join(cell.digest for cell in self._near(required, teeth))).hexdigest()

    def worth_judging(
        self, required: Requirement, duty: Duty, teeth: ToothRange
    ) -> Iterator[tuple[int, Sprocket, bool]]:
        """Of those that could engage, the ones that no first check refuses or leaves to a person; true beside those that
        could do with what is not recorded of them."""
        asked = [(first, self._said_before(first, required)) for first in FIRST]
        for cell in self._near(required, teeth):
            if cell.is_unknown:
                continue
            places: list[tuple[Any, bool]] = [(cell.alike, False)]
            for first, said in asked:
                found = []
                for place, is_lacking in places:
                    for number, inner in place.items():
                        if number not in said:
                            said[number] = self._answer_of(first, required, duty, cell.one_of(inner))
                        if said[number] is not FirstAnswer.REFUSED:
                            found.append((inner, is_lacking or said[number] is FirstAnswer.LACKING))
                places = found
            for items, is_lacking in places:
                yield from ((item, cell.sprockets[item], is_lacking) for item in items)

    def _said_before(self, first: FirstChecks, required: Requirement) -> Said:
        """Kept for other positions that read the same; the duty of a drive is like that of no other."""
        if first.duty:
            return {}
        return self._said[first, *(getattr(required, name) for name in first.required)]

    def _near(self, required: Requirement, teeth: ToothRange) -> Iterator[_Cell]:
        for pitch_mm, at_teeth in self._cells.items():
            if pitch_mm is None or has_pitch_near(required, pitch_mm, self._practice):
                counts = (
                    sorted(at_teeth, key=str) if teeth is None else (None, *range(teeth[0], teeth[1] + 1))
                )
                yield from (at_teeth[count] for count in counts if count in at_teeth)

    def _answer_of(
        self, first: FirstChecks, required: Requirement, duty: Duty, offered: Sprocket
    ) -> FirstAnswer:
        found = self._findings(first, required, duty, offered)
        if _passes(found):
            return FirstAnswer.PASSES
        if not left_for_lack(found):
            return FirstAnswer.REFUSED
        names = tuple(name for name in FITTING if name in first.offered)
        filled = (replace(offered, **filling) for filling in fillings(required, offered, names))
        passes = any(_passes(self._findings(first, required, duty, part)) for part in filled)
        return FirstAnswer.LACKING if passes else FirstAnswer.REFUSED

    def _findings(
        self, first: FirstChecks, required: Requirement, duty: Duty, offered: Sprocket
    ) -> list[Finding]:
        part = PlacedPart(required=required, duty=duty, offered=offered, practice=self._practice)
        return [one for check in first.checks for one in check(part)]


def _passes(findings: list[Finding]) -> bool:
    return not any(one.outcome in (Outcome.REVIEW, Outcome.NO) for one in findings)
