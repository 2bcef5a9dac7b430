"""Figures that a manager asks for each month, each with the rows that it counts."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django import forms
from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.edge.errors import parameter_errors
from api.edge.filtering import DayText, NumberText, Range
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.operations.jobs.calculations import declare_calculation
from api.wire.facts import FactSerializer
from drives.figures.all_figures import figures, figures_of_time
from drives.figures.figure import CurrencyValue, Figure, FigureRow
from inventory.facts import fact
from inventory.models import Storeroom
from inventory.models.access_scope import current_scope
from inventory.plumbing.record_validation import EARLIEST_YEAR
from inventory.progress import Progress, stretches, unreported

A_YEAR = timedelta(days=365)
DAYS_AHEAD, MOST_ROWS, DEFAULT_ROWS = 90, 2000, 200


class FigureRowSerializer(CoreAnswerSerializer):
    of = FigureRow
    members = "item storeroom position drive work_order pieces value currency on reasons"
    texts = {"work_order": "Of an order to a supplier: its number there."}
    value = serializers.DecimalField(max_digits=20, decimal_places=2, allow_null=True)


class CurrencyValueSerializer(CoreAnswerSerializer):
    of = CurrencyValue
    members = "currency value"
    value = serializers.DecimalField(max_digits=20, decimal_places=2)


class FigureSerializer(CoreAnswerSerializer):
    of = Figure
    members = "name meaning count out_of=of share values rows_without_value notes"
    texts = {
        "out_of": "Null: no share is meant, or nothing was there to count.",
        "values": "Of all rows together.",
        "rows_without_value": "Of rows that ought to have one.",
    }
    notes = FactSerializer(many=True)


class FiguresSerializer(serializers.Serializer[Any]):
    since = serializers.DateField(help_text="First day counted.")
    until = serializers.DateField(help_text="Last day counted.")
    results = FigureSerializer(many=True)


class OpenedFigureSerializer(FigureSerializer):
    members = f"{FigureSerializer.members} rows"
    rows = FigureRowSerializer(many=True, help_text="The first ones, up to `limit`.")


class CountedTimeQuery(forms.Form):
    storeroom = forms.CharField(required=False, max_length=20)
    since = DayText(required=False, help_text="First day; a year ago by default.")
    until = DayText(required=False, help_text="Last day; today by default.")


class FiguresQuery(CountedTimeQuery):
    days_ahead = NumberText(
        span=Range(1, 1_000, whole=True), required=False, help_text="For wear; 90 by default."
    )


class OpenedFigureQuery(FiguresQuery):
    limit = NumberText(span=Range(1, MOST_ROWS, whole=True), required=False)


class CountedTime(NamedTuple):
    """First and last day, the same as moments, and the storerooms to count, None for all."""

    since: date
    until: date
    begins: datetime
    ends: datetime
    storerooms: Collection[int] | None


def counted_time(query: dict[str, Any], now: datetime) -> CountedTime:
    """What a query asks for, in days of the current time zone; each problem at its parameter."""
    today = timezone.localdate(now)
    until = query["until"] or today
    since = query["since"] or until - A_YEAR
    wrong = {}
    if until > today:
        wrong["until"] = fact("day_in_the_future")
    if since > until:
        wrong["since"] = fact("since_after_until")
    for name, day in (("since", since), ("until", until)):
        if day.year < EARLIEST_YEAR:
            wrong[name] = fact("moment_implausible", field=name, earliest_year=EARLIEST_YEAR)
    room = query["storeroom"]
    found = visible_to_caller(Storeroom.objects.filter(code=room)).first() if room else None
    if room and found is None:
        wrong["storeroom"] = fact("no_such_record", kind="storeroom", name=room)
    if wrong:
        raise parameter_errors(wrong)
    return CountedTime(
        since,
        until,
        _begin_of(since),
        _begin_of(until + timedelta(days=1)),
        {found.pk} if found else current_scope().storerooms,
    )


def _begin_of(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))


def figures_for(
    query: dict[str, Any], only: str = "", progress: Progress = unreported
) -> tuple[date, date, tuple[Figure, ...]]:
    now = timezone.now()
    wanted = counted_time(query, now)
    counted = figures(
        wanted.begins,
        wanted.ends,
        now=now,
        days_ahead=int(query["days_ahead"] or DAYS_AHEAD),
        storerooms=wanted.storerooms,
        only=only,
        progress=progress,
    )
    return wanted.since, wanted.until, counted


@dataclass(frozen=True)
class CountedFigures:
    """Without their rows; `before` is what can be held against as many days before the first one."""

    figures: tuple[Figure, ...]
    before: tuple[Figure, ...]


def calculate_figures(
    since: str, until: str, days_ahead: str, storeroom: str, zone: str, progress: Progress = unreported
) -> CountedFigures:
    """The days are those of `zone`, as on the page that asks."""
    with timezone.override(ZoneInfo(zone)):
        return _calculated(since, until, days_ahead, storeroom, progress)


def _calculated(
    since: str, until: str, days_ahead: str, storeroom: str, progress: Progress
) -> CountedFigures:
    now, then = stretches(progress, 3, 2)
    first, last = date.fromisoformat(since), date.fromisoformat(until)
    query = {"since": first, "until": last, "days_ahead": days_ahead, "storeroom": storeroom}
    wanted = counted_time(query, timezone.now())
    earlier = wanted.begins - (wanted.ends - wanted.begins)
    _, _, counted = figures_for(query, progress=now)
    before = figures_of_time(earlier, wanted.begins, wanted.storerooms, then)
    return CountedFigures(
        tuple(replace(one, rows=()) for one in counted), tuple(replace(one, rows=()) for one in before)
    )


def figures_parameters(query: dict[str, Any]) -> dict[str, str]:
    """The same days have one answer, whether they are named or left out."""
    wanted = counted_time(query, timezone.now())
    return {
        "since": wanted.since.isoformat(),
        "until": wanted.until.isoformat(),
        "days_ahead": str(int(query["days_ahead"] or DAYS_AHEAD)),
        "storeroom": query["storeroom"],
        "zone": timezone.get_current_timezone_name(),
    }


FIGURES = declare_calculation(
    "figures", CountedFigures, calculate_figures, usual_seconds=2.0, address="screens:figures"
)


class FiguresView(StrictAPIView):
    """Stock-outs, fill by class, value of stock, issues and write-offs, excess, dead stock, insurance, late and emergency orders, wrong deliveries, false fits, counts, wear that is due."""

    is_costly = is_list = True
    query_form = FiguresQuery

    @extend_schema(responses=FiguresSerializer)
    def get(self, request: Request) -> Response:
        since, until, counted = figures_for(self.read_query())
        return self.listed(FiguresSerializer({"since": since, "until": until, "results": counted}))


class FigureView(StrictAPIView):
    """One of the figures, with the rows that it counts."""

    is_costly = True
    query_form = OpenedFigureQuery

    @extend_schema(responses=OpenedFigureSerializer)
    def get(self, request: Request, name: str) -> Response:
        query = self.read_query()
        _, _, counted = figures_for(query, only=name)
        if not counted:
            raise Http404(f"There is no figure {name}.")
        shown = OpenedFigureSerializer(counted[0]).data
        shown["rows"] = shown["rows"][: int(query["limit"] or DEFAULT_ROWS)]
        return Response(shown)
