"""All sprockets by pitch and tooth count, those alike in what is checked first together: a position looks only at its own."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256

from inventory.catalogue.shortlist import ToothRange, has_pitch_near
from inventory.interchange.engagement import check_chain
from inventory.interchange.findings import Finding
from inventory.interchange.material import check_material
from inventory.interchange.mounting import check_mounting
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.strands import check_strands
from inventory.interchange.teeth import check_teeth
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Outcome

Check = Callable[[Requirement, Sprocket, Practice], tuple[Finding, ...]]


@dataclass(frozen=True)
class FirstChecks:
    """Checks that refuse most sprockets, and all that they read of a position and of a sprocket; a test holds them to it.

    What one of them refuses or leaves to a person is made no better by any other check.
    """

    checks: tuple[Check, ...]
    required: tuple[str, ...]
    offered: tuple[str, ...]


OF_RIM = FirstChecks(
    checks=(check_teeth, check_strands, check_chain),
    required=("chain", "teeth", "single_cut", "minimum_teeth", "role", "strands", "interface", "envelope"),
    offered=("chain", "teeth", "single_cut", "strands", "tooth_width_mm"),
)
"""Also a drive that takes up another tooth count leaves it to a person."""
OF_MOUNTING = FirstChecks(
    checks=(check_mounting,),
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
    checks=(check_material,),
    required=("material", "material_grade", "environment", "is_shock_loaded", "role", "teeth"),
    offered=("material", "material_grade"),
)
FIRST = OF_RIM, OF_MOUNTING, OF_MATERIAL

Alike = tuple[int, ...]
"""For each of the first checks a number, the same where they read the same."""


@dataclass(frozen=True)
class _Cell:
    """The sprockets of one pitch and tooth count, by item and by what the first checks read."""

    sprockets: Mapping[int, Sprocket]
    alike: Mapping[Alike, tuple[int, ...]]

    @cached_property
    def digest(self) -> bytes:
        return sha256(repr(sorted(self.sprockets.items(), key=lambda one: one[0])).encode()).digest()


class SprocketIndex:
    """Built once; what the first checks say is remembered by what they read."""

    def __init__(self, sprockets: Mapping[int, Sprocket], practice: Practice) -> None:
        self._practice = practice
        self._numbers: dict[tuple[object, ...], int] = {}
        self._refused: dict[tuple[int, int], bool] = {}
        members: dict[tuple[float | None, int | None], dict[int, Sprocket]] = defaultdict(dict)
        for item, offered in sprockets.items():
            members[None if offered.chain is None else offered.chain.pitch_mm, offered.teeth][item] = offered
        self._cells: dict[float | None, dict[int | None, _Cell]] = defaultdict(dict)
        for (pitch_mm, teeth), found in members.items():
            self._cells[pitch_mm][teeth] = self._cell(found)

    def _cell(self, sprockets: Mapping[int, Sprocket]) -> _Cell:
        alike: dict[Alike, list[int]] = defaultdict(list)
        for item, offered in sprockets.items():
            alike[tuple(self._number(offered, one.offered) for one in FIRST)].append(item)
        return _Cell(sprockets, {key: tuple(items) for key, items in alike.items()})

    def _number(self, value: Requirement | Sprocket, names: tuple[str, ...]) -> int:
        read = (names, *(getattr(value, name) for name in names))
        return self._numbers.setdefault(read, len(self._numbers))

    def digest_near(self, required: Requirement, teeth: ToothRange) -> str:
        """Of all attributes of every sprocket that could engage."""
        return sha256(b"".join(cell.digest for cell in self._near(required, teeth))).hexdigest()

    def worth_judging(self, required: Requirement, teeth: ToothRange) -> Iterator[tuple[int, Sprocket]]:
        """Of those that could engage, the ones that no first check refuses or leaves to a person."""
        asked = tuple(self._number(required, one.required) for one in FIRST)
        for cell in self._near(required, teeth):
            for alike, items in cell.alike.items():
                if not self._is_refused(asked, alike, required, cell.sprockets[items[0]]):
                    yield from ((item, cell.sprockets[item]) for item in items)

    def _near(self, required: Requirement, teeth: ToothRange) -> Iterator[_Cell]:
        for pitch_mm, at_teeth in self._cells.items():
            if pitch_mm is None or has_pitch_near(required, pitch_mm, self._practice):
                counts = (
                    sorted(at_teeth, key=str) if teeth is None else (None, *range(teeth[0], teeth[1] + 1))
                )
                yield from (at_teeth[count] for count in counts if count in at_teeth)

    def _is_refused(self, asked: Alike, alike: Alike, required: Requirement, offered: Sprocket) -> bool:
        for first, *key in zip(FIRST, asked, alike, strict=True):
            known = self._refused.get((key[0], key[1]))
            if known is None:
                findings = (one for check in first.checks for one in check(required, offered, self._practice))
                known = any(one.outcome in (Outcome.REVIEW, Outcome.NO) for one in findings)
                self._refused[key[0], key[1]] = known
            if known:
                return True
        return False
