"""The fitter's sheet: one part for one place, on one page, in the order of the hands."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.http import HttpRequest
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from api.edge.public_address import public_address
from api.screens.candidate_groups import CandidateCard
from api.screens.drawings.comparison import Difference, differences_between
from api.screens.drawings.sprocket import DrawnSprocket, drawn_sprocket
from api.screens.drawings.sprocket_views import views_of
from api.screens.drawings.view import View, value
from api.screens.paper.scan_code import scan_code
from api.wording.lengths import length_text, size_text
from drives.chain.setting import setting_limits
from drives.models import Drive, Installation
from drives.models.drive import Shock
from drives.substitutes.companions import Companion
from inventory.catalogue.stock_on_hand import ShelfStock
from inventory.facts import Fact
from inventory.interchange.vocabulary import Grade
from inventory.models import MachineShop, Specification
from inventory.standards.bushes import Bush, UnknownBush, find_bush
from inventory.standards.set_screws import SetScrew, set_screws

SHELVES = 2
THREADS = {"ASME B17.1": "inch", "ISO 773": "metric", "ISO 773 low": "metric"}
"""Of set screws, by the standard of the keyway."""

Dimension = tuple[str, str]


@dataclass(frozen=True)
class FittingSheet:
    card: CandidateCard
    drive: Drive
    drawn: DrawnSprocket | None
    differences: list[Difference]
    front: View | None
    section: View | None
    work_order: str
    code: SafeString
    address: str

    @property
    def shelves(self) -> tuple[ShelfStock, ...]:
        """Where to fetch it: the first with pieces to give."""
        found = [shelf for shelf in self.card.offer.candidate.shelves if shelf.available]
        return tuple(found[:SHELVES])

    @property
    def to_fetch(self) -> tuple[Companion, ...]:
        return tuple(one for one in self.card.offer.companions if one.kind != "chain")

    @property
    def chain(self) -> Companion | None:
        return next((one for one in self.card.offer.companions if one.kind == "chain"), None)

    @property
    def bush(self) -> Bush | None:
        try:
            return find_bush(self.drawn.part.bush_size or "") if self.drawn else None
        except UnknownBush:
            return None

    @property
    def bush_torque(self) -> str:
        bush = self.bush
        if bush is None or bush.screw_torque_nm is None:
            return _("torque not in the tables: take it from the sheet of the bush")
        metric = _("{torque} Nm").format(torque=value(bush.screw_torque_nm))
        if bush.screw_torque_us_nm is None:
            return metric
        inch = _("{torque} Nm with inch threads").format(torque=value(bush.screw_torque_us_nm))
        return f"{metric}, {inch}"

    @property
    def set_screws(self) -> tuple[SetScrew, ...]:
        """Their torques by size, which no record has: the key that fits tells it. Threads follow the standard of the keyway.

        None where a bush or no screw holds the part.
        """
        if self.drawn is None or self.drawn.part.bush_size or self.drawn.part.set_screws == 0:
            return ()
        thread = THREADS.get(self.drawn.part.key_standard or "")
        return tuple(one for one in set_screws() if not thread or one.thread == thread)

    @property
    def dimensions(self) -> list[Dimension]:
        """What to check in the hand, before the old part is off."""
        return list(_dimensions(self.drawn)) if self.drawn else []

    @property
    def screw_torques(self) -> list[tuple[SetScrew, str]]:
        words = _("{torque} Nm")
        return [(one, words.format(torque=value(one.torque_nm))) for one in self.set_screws]

    @property
    def screw_sources(self) -> str:
        titles = (title for one in self.set_screws for title in one.source.split("; "))
        return "; ".join(dict.fromkeys(titles))

    @property
    def setting(self) -> tuple[Fact, ...]:
        centre = self.drive.centre_distance_mm
        runs_hard = bool(self.drive.reversing) or self.drive.shock in (Shock.MODERATE, Shock.HEAVY)
        return setting_limits(None if centre is None else float(centre), runs_hard=runs_hard)

    @property
    def may_be_fitted(self) -> bool:
        """Never on a lifting drive, where the person responsible decides."""
        return not self.drive.lifting and not self.card.is_unfit

    @property
    def needs_review(self) -> bool:
        return self.may_be_fitted and self.card.grade is Grade.NEEDS_REVIEW

    @property
    def shop(self) -> MachineShop | None:
        plant = self.drive.equipment.area.plant
        return plant.machine_shop or (plant.storeroom.machine_shop if plant.storeroom else None)


def _dimensions(drawn: DrawnSprocket) -> Iterator[Dimension]:
    part, form = drawn.part, drawn.form
    yield _("Teeth"), str(form.teeth)
    if part.outside_diameter_mm is not None:
        yield _("Outside diameter"), size_text(part.outside_diameter_mm)
    else:
        limits = form.outside_diameter_min_mm, form.outside_diameter_max_mm
        least, most = (length_text(round(limit, 1)) for limit in limits)
        yield _("Outside diameter"), _("{least} to {most}").format(least=least, most=most)
    yield _("Caliper over the gaps"), length_text(form.caliper_diameter_mm)
    yield _("Tooth width"), length_text(drawn.row_mm)
    for name, length in (
        (_("Bore"), part.bore_mm),
        (_("Keyway width"), part.keyway_width_mm),
        (_("Keyway depth"), part.keyway_depth_mm),
        (_("Hub diameter"), part.hub_diameter_mm),
        (_("Length through bore"), part.length_through_bore_mm),
    ):
        if length is not None:
            yield name, size_text(length)
    if part.bush_size:
        yield _("Bush"), part.bush_size
    if part.set_screws is not None:
        yield _("Set screws"), str(part.set_screws)


def fitting_sheet(
    request: HttpRequest, card: CandidateCard, drive: Drive, fitted: Installation | None, work_order: str
) -> FittingSheet:
    drawn = drawn_sprocket(card.offer.candidate.item.specification)
    old = drawn_sprocket(_record_of(fitted)) if fitted else None
    differences = differences_between(old, drawn) if old and drawn else []
    front, section = views_of(drawn, old if differences else None) if drawn else (None, None)
    address = public_address(request.get_full_path(), request)
    return FittingSheet(
        card, drive, drawn, differences, front, section, work_order, scan_code(address), address
    )


def _record_of(unit: Installation) -> Specification | None:
    """That of the day on which it was fitted, else that of its item."""
    return unit.specification or (unit.item.specification if unit.item else None)
