"""From when the record of a storeroom is complete: as a person set it, else from where its density rises no more."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from drives.demand.request_matching import DemandEvent
from drives.models import RecordSource, RecordStart
from drives.reliability.record_density import density_jump, last_rise
from inventory.facts import Fact, fact
from inventory.stocking.demand_models import DAYS_PER_YEAR
from inventory.stocking.demand_settings import SHIPPED, DemandSettings

SHORTEST_FALL_YEARS = 1.0
"""A shorter time with few records may be the season: start value, no source."""

A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartOfRecord:
    """`earlier_days` are days with records before `at`; `jump` says where the density still jumps after it."""

    at: datetime
    reason: Fact
    is_set: bool = False
    earlier_days: int = 0
    jump: Fact | None = None


@dataclass(frozen=True)
class RecordStarts:
    """As the records up to a moment show them."""

    until: datetime
    of: Mapping[tuple[int, bool], StartOfRecord] = field(default_factory=dict)
    """By storeroom, of sprockets and of other parts."""
    proposals: Mapping[tuple[int, str], StartOfRecord] = field(default_factory=dict)
    """Of each source of a storeroom by itself."""

    def start(self, storeroom_id: int, *, is_sprocket: bool, as_of: datetime) -> StartOfRecord:
        """Where nothing was recorded by then, the record begins then."""
        nothing = StartOfRecord(at=self.until, reason=fact("record_not_begun"))
        found = self.of.get((storeroom_id, is_sprocket), nothing)
        return replace(found, at=min(found.at, as_of))


@dataclass(frozen=True, slots=True)
class SetStart:
    """The first day of a complete record, as a person set it."""

    source: str
    at: datetime
    note: str


def load_set_starts() -> dict[int, SetStart]:
    """The earliest by storeroom; one query."""
    found: dict[int, SetStart] = {}
    rows = RecordStart.objects.filter(complete_from__isnull=False).select_related("storeroom")
    for row in rows.order_by("-complete_from", "-source"):
        if row.complete_from is not None:
            begin = datetime.combine(row.complete_from, time.min, ZoneInfo(row.storeroom.timezone))
            found[row.storeroom_id] = SetStart(row.source, begin.astimezone(UTC), row.note)
    return found


@dataclass
class RecordDays:
    """The moments of all records, by storeroom.

    Sprockets are apart: a removed unit says nothing of chain or bushes.
    """

    end: datetime
    set_starts: Mapping[int, SetStart]
    settings: DemandSettings = SHIPPED
    _of_source: dict[tuple[int, str], list[datetime]] = field(default_factory=lambda: defaultdict(list))
    _of_kind: dict[tuple[int, bool], list[datetime]] = field(default_factory=lambda: defaultdict(list))

    def add(self, storeroom_id: int, event: DemandEvent, *, is_sprocket: bool) -> None:
        self.add_moment(storeroom_id, event.at, event.origin, is_sprocket=is_sprocket)

    def add_moment(self, storeroom_id: int, at: datetime, source: str, *, is_sprocket: bool) -> None:
        self._of_source[storeroom_id, source].append(at)
        self._of_kind[storeroom_id, is_sprocket].append(at)

    def starts(self) -> RecordStarts:
        rooms = {*self.set_starts, *(room for room, _ in self._of_source)}
        keys = [(room, is_sprocket) for room in sorted(rooms) for is_sprocket in (False, True)]
        of = {(room, kind): self.start(room, is_sprocket=kind) for room, kind in keys}
        return RecordStarts(self.end, of, self.proposals)

    @cached_property
    def proposals(self) -> Mapping[tuple[int, str], StartOfRecord]:
        """Of each source of a storeroom by itself."""
        return {
            key: _proposal(_by_day(moments), self.end, self.settings)
            for key, moments in sorted(self._of_source.items())
        }

    def start(self, storeroom_id: int, *, is_sprocket: bool) -> StartOfRecord:
        """The source complete first begins the record, unless all of them together rise later."""
        days = _by_day(self._of_kind[storeroom_id, is_sprocket])
        set_start = self.set_starts.get(storeroom_id)
        if set_start is not None:
            reason = fact("record_start_set", source=set_start.source, note=set_start.note or None)
            found = StartOfRecord(at=set_start.at, reason=reason, is_set=True)
        else:
            found = self._earliest(storeroom_id, is_sprocket)
            risen = _proposal([day for day in days if day >= found.at], self.end, self.settings)
            found = risen if risen.earlier_days else found
        return StartOfRecord(
            at=found.at,
            reason=found.reason,
            is_set=found.is_set,
            earlier_days=sum(day < found.at for day in days),
            jump=_jump([day for day in days if day >= found.at], found.at, self.end, self.settings),
        )

    def _earliest(self, storeroom_id: int, is_sprocket: bool) -> StartOfRecord:
        starts = (
            start
            for (room, source), start in self.proposals.items()
            if room == storeroom_id and (is_sprocket or source != RecordSource.INSTALLATIONS)
        )
        nothing = StartOfRecord(at=self.end, reason=fact("record_not_begun"))
        return min(starts, key=lambda start: start.at, default=nothing)


def _by_day(moments: Iterable[datetime]) -> list[datetime]:
    """The first moment of each day with records: lines of one job are one record."""
    first: dict[object, datetime] = {}
    for moment in sorted(moments):
        first.setdefault(moment.astimezone(UTC).date(), moment)
    return list(first.values())


def _proposal(days: Sequence[datetime], end: datetime, settings: DemandSettings) -> StartOfRecord:
    if not days:
        return StartOfRecord(at=end, reason=fact("record_not_begun"))
    limits = {"factor": settings.record_rise_factor, "chance": settings.record_rise_chance}
    first = last_rise(_since_first(days), end=(end - days[0]) / A_DAY, **limits) if days[-1] < end else 0
    if not first:
        years = (end - days[0]) / A_DAY / DAYS_PER_YEAR
        return StartOfRecord(at=days[0], reason=fact("record_starts_with_first", days=len(days), years=years))
    return StartOfRecord(
        at=days[first],
        reason=fact(
            "record_starts_where_dense",
            earlier_days=first,
            earlier_years=(days[first] - days[0]) / A_DAY / DAYS_PER_YEAR,
            days=len(days) - first,
            years=(end - days[first]) / A_DAY / DAYS_PER_YEAR,
        ),
        earlier_days=first,
    )


def _since_first(days: Sequence[datetime]) -> list[float]:
    return [(day - days[0]) / A_DAY for day in days]


def _jump(days: Sequence[datetime], begin: datetime, end: datetime, settings: DemandSettings) -> Fact | None:
    """Where the counted record is not of one density: a manager should know before he trusts a rate."""
    if not days or days[-1] >= end:
        return None
    # The beginning stands for a first record where it has none: the time until then counts too.
    is_empty = int(begin < days[0])
    moments = [begin, *days] if is_empty else days
    limits = {"factor": settings.record_rise_factor, "chance": settings.record_rise_chance}
    found = density_jump(_since_first(moments), end=(end - begin) / A_DAY, **limits)
    if found is None or (not found.is_rise and found.later_span < SHORTEST_FALL_YEARS * DAYS_PER_YEAR):
        return None
    return fact(
        "record_density_rises" if found.is_rise else "record_density_falls",
        from_day=(begin + found.earlier_span * A_DAY).date().isoformat(),
        earlier_per_year=(found.earlier_records - is_empty) / found.earlier_span * DAYS_PER_YEAR,
        later_per_year=found.later_records / found.later_span * DAYS_PER_YEAR,
    )


def store_proposals(proposals: Mapping[tuple[int, str], StartOfRecord]) -> None:
    """Beside what people set, which stays; only what differs is written."""
    known = {(row.storeroom_id, row.source): row for row in RecordStart.objects.order_by("pk")}
    new, changed = [], []
    for (storeroom_id, source), found in proposals.items():
        values = {"proposed_from": found.at, "reason": found.reason.as_json()}
        row = known.get((storeroom_id, source))
        if row is None:
            new.append(RecordStart(storeroom_id=storeroom_id, source=source, **values))
        elif (row.proposed_from, row.reason) != (found.at, values["reason"]):
            changed.append(RecordStart(pk=row.pk, storeroom_id=storeroom_id, source=source, **values))
    # A row that a manager creates at the same moment stays; the next recompute adds the proposal.
    RecordStart.objects.bulk_create(new, ignore_conflicts=True)
    RecordStart.objects.bulk_update(changed, ["proposed_from", "reason"])
