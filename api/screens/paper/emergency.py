"""Emergency sheets: for a night without network, one printed page for each vital drive and each lifting drive."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.contrib.staticfiles import finders
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.candidate_groups import lay_out
from api.screens.visible_record import visible_or_404
from drives.models import Criticality, Drive, Position
from drives.substitutes.offers import Offer, RankedOffers, Wanted, substitutes_for_position
from drives.substitutes.position_requirement import positions_with_requirements
from inventory.models import MachineShop

STYLES = ("tokens.css", "paper.css")
MOST_FITTING = 8
MOST_TRAPS = 6
"""On a page, shared by the positions of its drive."""
TO_CHOOSE_FROM = Wanted(MOST_FITTING, refused=MOST_TRAPS)


@dataclass(frozen=True)
class PositionSheet:
    position: Position
    answer: RankedOffers
    fitting: tuple[Offer, ...]
    """What can be taken from a shelf, in this order; where nothing lies there, what could be ordered."""
    traps: tuple[Offer, ...]

    @property
    def is_on_shelf(self) -> bool:
        return any(offer.candidate.available for offer in self.fitting)


@dataclass(frozen=True)
class DriveSheet:
    drive: Drive
    shop: MachineShop | None
    made_at: datetime
    positions: tuple[PositionSheet, ...]


def emergency_drives() -> QuerySet[Drive]:
    rows = visible_to_caller(Drive.objects.filter(Q(criticality=Criticality.VITAL) | Q(lifting=True)))
    return rows.select_related(
        "equipment__area__plant__machine_shop", "equipment__area__plant__storeroom__machine_shop"
    ).order_by("equipment__area__plant__code", "equipment__area__code", "tag")


def sheets_of(drives: Iterable[Drive], at: datetime) -> Iterator[DriveSheet]:
    for drive in drives:
        plant = drive.equipment.area.plant
        shop = plant.machine_shop or (plant.storeroom.machine_shop if plant.storeroom else None)
        places = list(positions_with_requirements().filter(drive=drive).order_by("role", "tag"))
        lines = tuple(_of_position(place, at, len(places)) for place in places)
        yield DriveSheet(drive, shop, timezone.localtime(at, ZoneInfo(plant.timezone)), lines)


def _of_position(place: Position, at: datetime, of_page: int) -> PositionSheet:
    answer = substitutes_for_position(place, here_id=None, at=at, wanted=TO_CHOOSE_FROM)
    if place.drive.lifting:
        return PositionSheet(place, answer, (), ())
    shown = lay_out(answer, here_id=None, soonest_first=False, on_shelf_only=False, show_all=False)
    usable = [offer for offer in answer.offers if offer.is_usable]
    free = [offer for offer in usable if offer.candidate.available]
    traps = [offer for offer in shown.mistaken if any(shelf.on_hand for shelf in offer.candidate.shelves)]
    return PositionSheet(
        place,
        answer,
        tuple((free or usable)[: MOST_FITTING // of_page]),
        tuple(traps[: MOST_TRAPS // of_page]),
    )


def sheets_file(drives: Iterable[Drive], at: datetime) -> tuple[str, int]:
    """One file that needs nothing beside it, and how many sheets it has."""
    sheets = list(sheets_of(drives, at))
    return render_to_string(
        "paper/emergency_file.html", {"sheets": sheets, "styles": styles_of(*STYLES)}
    ), len(sheets)


def styles_of(*names: str) -> SafeString:
    """The text of style sheets, for a file that needs nothing beside it."""
    found = [finders.find(name) for name in names]
    return mark_safe("\n".join(Path(str(path)).read_text() for path in found))


@require_safe
@login_required
def emergency_list(request: HttpRequest) -> HttpResponse:
    return render(request, "paper/emergency_list.html", {"drives": emergency_drives()})


@require_safe
@login_required
def emergency_sheet(request: HttpRequest, tag: str) -> HttpResponse:
    drive = visible_or_404(emergency_drives(), "tag", tag)
    (sheet,) = sheets_of([drive], timezone.now())
    return render(request, "paper/emergency_page.html", {"sheet": sheet, "drive": drive})


@require_safe
@login_required
def emergency_file(request: HttpRequest) -> HttpResponse:
    text, _count = sheets_file(emergency_drives(), timezone.now())
    return HttpResponse(text, headers={"Content-Disposition": 'attachment; filename="emergency-sheets.html"'})
