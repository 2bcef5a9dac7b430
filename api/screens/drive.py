"""A drive: drawing to scale, positions, pairs of substitutes, its record in numbers."""

from decimal import Decimal
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from api.screens.charts.chart import file_of
from api.screens.drawings.view import value
from api.screens.drive_drawing import DriveDrawing, Wheel, draw
from api.screens.history import history_of
from api.screens.page_filters import NONE, figure, measured, money
from api.screens.visible_record import visible_or_404
from api.screens.wear_chart import wear_chart
from drives.models import Drive, Installation, Position
from drives.substitutes.pairs import substitute_pairs
from inventory.interchange.vocabulary import PositionRole
from inventory.standards.tooth_formulas import pitch_diameter_mm

PAIRS_SHOWN = 5
DriveNumber = tuple[str, str]


@require_safe
@login_required
def drive(request: HttpRequest, tag: str) -> HttpResponseBase:
    record = visible_or_404(
        Drive.objects.select_related("equipment__area__plant").prefetch_related("positions"),
        "tag",
        tag,
    )
    positions = sorted(
        record.positions.all(),
        key=lambda place: (list(PositionRole).index(PositionRole(place.role)), place.tag),
    )
    fitted = {
        life.position_id: life
        for life in Installation.objects.still_fitted().filter(position__drive=record).select_related("item")
    }
    pairs = substitute_pairs(record)
    shown = pairs.pairs if request.GET.get("all") == "1" else pairs.pairs[:PAIRS_SHOWN]
    cautions = (
        [line for line in shown[0].cautions if all(line in pair.cautions for pair in shown)] if shown else []
    )
    history = history_of(record, positions, timezone.now())
    context = {
        "drive": record,
        "plant": record.equipment.area.plant,
        "positions": [(place, fitted.get(place.pk)) for place in positions],
        "idlers": [place for place in positions if place.role == PositionRole.IDLER],
        "drawing": drawing_of(record, positions),
        "numbers": numbers_of(record),
        "history": history,
        "wear_chart": wear_chart(history),
        "pairs": [(pair, [line for line in pair.cautions if line not in cautions]) for pair in shown],
        "pair_cautions": cautions,
        "pairs_left_out": len(pairs.pairs) - len(shown),
        "pairs_found": len(pairs.pairs),
        "pair_notes": pairs.notes,
        "not_combined": pairs.left_out,
    }
    with timezone.override(ZoneInfo(record.equipment.area.plant.timezone)):
        return file_of(request, context) or render(request, "screens/drive.html", context)


def drawing_of(record: Drive, positions: list[Position]) -> DriveDrawing | None:
    """Drawn where pitch, centre distance and the teeth of one driver and one driven are known."""
    ends = [
        [place for place in positions if place.role == role]
        for role in (PositionRole.DRIVER, PositionRole.DRIVEN)
    ]
    if record.pitch_mm is None or record.centre_distance_mm is None or any(len(end) != 1 for end in ends):
        return None
    driver, driven = ends[0][0], ends[1][0]
    if driver.teeth is None or driven.teeth is None:
        return None
    pitch, centre = float(record.pitch_mm), float(record.centre_distance_mm)
    return draw(_wheel(driver, 0.0, pitch), _wheel(driven, centre, pitch))


def _wheel(place: Position, x_mm: float, pitch_mm: float) -> Wheel:
    """Named by what its tag adds to that of the drive."""
    assert place.teeth is not None
    shaft = place.shaft_diameter_mm
    teeth = ngettext("{teeth} tooth", "{teeth} teeth", place.teeth).format(teeth=place.teeth)
    return Wheel(
        x_mm,
        pitch_diameter_mm(pitch_mm, place.teeth) / 2,
        float(shaft) / 2 if shaft is not None else None,
        teeth if shaft is None else f"{teeth}, ⌀{value(float(shaft))}",
        place.tag.removeprefix(f"{place.drive.tag}-"),
    )


def numbers_of(record: Drive) -> list[DriveNumber]:
    """Each with its unit, lengths in those of the reader."""
    shorter = record.centre_adjustment_min_mm
    return [
        (_("Centre distance"), _length(record.centre_distance_mm)),
        (_("Centres can move closer by"), _length(None if shorter is None else abs(shorter))),
        (_("Centres can move apart by"), _length(record.centre_adjustment_max_mm)),
        (_("Chain length"), _amount(record.links, _("links"))),
        (_("Power"), _amount(record.power_kw, "kW")),
        (_("Driver speed"), _amount(record.driver_speed_rpm, "rev/min")),
        (_("Service factor"), figure(record.service_factor)),
        (_("Ratio tolerance"), _amount(record.ratio_tolerance_percent, "%")),
        (_("Temperature"), _amount(record.temperature_c, "°C")),
        (_("Running time a year"), _amount(record.hours_per_year, "h")),
        (_("Downtime cost an hour"), money(record.downtime_cost_per_hour, record.currency)),
        (_("Time to change one sprocket"), _amount(record.fitting_minutes, "min")),
    ]


def _length(mm: Decimal | None) -> str:
    return NONE if mm is None else measured(mm)


def _amount(number: Decimal | int | None, unit: str) -> str:
    return NONE if number is None else f"{figure(number)} {unit}"
