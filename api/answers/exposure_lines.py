"""The calculated list of positions at risk, stored line by line: an answer reads the page that it shows, and sums by plant."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from django.db.models import QuerySet

from api.models import BackgroundJob, ExposureLine
from api.operations.jobs.kinds import JobInHand
from drives.exposure.position_years import PositionYear, explained, year_of_all
from drives.exposure.positions_at_risk import PositionRisk, shortened
from drives.models import Plant
from inventory.facts import Fact, fact
from inventory.plumbing.many_rows import insert_columns
from inventory.plumbing.stored_form import from_stored, to_stored

LINES_AT_ONCE = 1_000
DEMAND_NOT_KNOWN = frozenset({"demand_of_position_not_known", "chance_not_calculated_yet"})


@dataclass(frozen=True)
class PlantExposure:
    """Every position that the caller may see, the most exposed first, and what is known of all of them."""

    positions: tuple[PositionRisk, ...]
    is_cover_known: bool
    demand: Fact
    """As of when it was calculated."""
    currency: str
    """Of the downtime of a year."""


@dataclass(frozen=True, kw_only=True)
class ExposureSum:
    """Of the positions of one plant and one criticality."""

    plant: str
    storeroom: str
    criticality: str
    positions: int
    without_part: int
    waits_not_known: int
    without_price: int
    not_known: int
    counted_as_none: int
    year: PositionYear


@dataclass(frozen=True, kw_only=True)
class ExposureSums:
    sums: tuple[ExposureSum, ...]
    is_cover_known: bool
    demand: Fact
    currency: str

    def of(self, *, storeroom: str = "", plant: str = "", importance: str = "") -> "ExposureSums":
        """Of a plant, or of the plants that a storeroom serves; `unknown` importance is that of drives without one."""
        return replace(
            self,
            sums=tuple(
                one
                for one in self.sums
                if storeroom in ("", one.storeroom)
                and plant in ("", one.plant)
                and importance in ("", one.criticality or "unknown")
            ),
        )

    def count(self, name: str = "positions") -> int:
        return sum(getattr(one, name) for one in self.sums)

    @property
    def year(self) -> PositionYear:
        return year_of_all(one.year for one in self.sums)

    @property
    def notes(self) -> list[Fact]:
        """What is not known of all positions together."""
        notes = [self.demand, *(() if self.is_cover_known else (fact("cover_not_calculated"),))]
        for code, name in (
            ("hours_to_wait_not_known", "waits_not_known"),
            ("downtime_costs_not_known", "without_price"),
            ("chances_not_known", "not_known"),
            ("demand_not_known_counted_as_none", "counted_as_none"),
        ):
            if positions := self.count(name):
                notes.append(fact(code, positions=positions))
        return [*notes, *explained(self.year, self.currency)]


def sums_of(exposure: PlantExposure) -> ExposureSums:
    groups: dict[tuple[str, str, str], list[PositionRisk]] = defaultdict(list)
    for risk in exposure.positions:
        found = risk.position
        groups[found.plant, found.storeroom, found.criticality].append(risk)
    sums = tuple(_sum_of(*key, risks) for key, risks in sorted(groups.items()))
    return ExposureSums(
        sums=sums,
        is_cover_known=exposure.is_cover_known,
        demand=exposure.demand,
        currency=exposure.currency,
    )


def _sum_of(plant: str, storeroom: str, criticality: str, risks: Sequence[PositionRisk]) -> ExposureSum:
    return ExposureSum(
        plant=plant,
        storeroom=storeroom,
        criticality=criticality,
        positions=len(risks),
        without_part=sum(
            risk.chance is not None and not any(cover.available for cover in risk.covers) for risk in risks
        ),
        waits_not_known=sum(risk.hourly_cost is not None and risk.expected_cost is None for risk in risks),
        without_price=sum(
            risk.chance is not None and risk.position.downtime_cost_per_hour is None for risk in risks
        ),
        not_known=sum(risk.chance is None for risk in risks),
        counted_as_none=sum(
            risk.reason.code in DEMAND_NOT_KNOWN and any(cover.within_reach for cover in risk.covers)
            for risk in risks
        ),
        year=year_of_all(risk.year for risk in risks if risk.year),
    )


def store_lines(job: JobInHand, exposure: PlantExposure) -> ExposureSums:
    """Lines of the job itself from an attempt that broke off are replaced; those of an answer shown until now stay that long."""
    older = BackgroundJob.objects.filter(key=job.row.key)
    shown = older.filter(answer__isnull=False).values("pk")
    ExposureLine.objects.filter(job__in=older.values("pk")).exclude(job__in=shown).delete()
    plants = dict(Plant.objects.values_list("code", "pk"))
    for start in range(0, len(exposure.positions), LINES_AT_ONCE):
        risks = exposure.positions[start : start + LINES_AT_ONCE]
        insert_columns(
            ExposureLine,
            {
                "job_id": [job.row.pk] * len(risks),
                "place": range(start + 1, start + len(risks) + 1),
                "position_id": [risk.position.position_id for risk in risks],
                "plant_id": [plants[risk.position.plant] for risk in risks],
                "criticality": [risk.position.criticality for risk in risks],
                "risk": [to_stored(shortened(risk)) for risk in risks],
            },
        )
    return sums_of(exposure)


def lines_of(
    job: int, *, storeroom: str = "", plant: str = "", importance: str = ""
) -> QuerySet[ExposureLine]:
    lines = ExposureLine.objects.filter(job=job).order_by("place")
    if storeroom or plant:
        chosen = Plant.objects.filter(**{"code": plant} if plant else {})
        found = list(
            (chosen.filter(storeroom__code=storeroom) if storeroom else chosen).values_list("pk", flat=True)
        )
        # The lines of one plant are read in their order from the index.
        lines = lines.filter(plant=found[0]) if len(found) == 1 else lines.filter(plant__in=found)
    return lines.filter(criticality="" if importance == "unknown" else importance) if importance else lines


def risks_on(lines: Iterable[ExposureLine]) -> list[PositionRisk]:
    return [from_stored(PositionRisk, line.risk) for line in lines]
