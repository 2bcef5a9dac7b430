"""What each position asks for without a plan, as a law over any time: its pool's rate, or the age of the unit there."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from drives.demand.families import Families, Prior, exposure_years, unplanned_pieces
from drives.demand.model_selection import Choice, choose
from drives.demand.pools import DAYS_PER_YEAR, Plant, Pool, gather
from drives.reliability.rate_pooling import demand_distribution
from drives.reliability.renewal_forecast import renewal_distributions
from inventory.stocking.lead_time_demand import LeadTimeDemand, convolve, from_pmf


@dataclass(frozen=True)
class Wearing:
    """The unit that sits there now and the law of its life."""

    age_hours: float
    hours_per_year: float
    shape: float
    scale_hours: float


@dataclass(frozen=True)
class PositionAsk:
    """Pieces that one position asks for: `pieces` in `years` of positions of its part, drawn towards its family."""

    position_id: int
    pieces: float
    years: float
    prior: Prior
    wearing: Wearing | None = None

    @property
    def rate_per_year(self) -> float:
        return self.over(DAYS_PER_YEAR).mean

    def over(self, days: float) -> LeadTimeDemand:
        horizon = days / DAYS_PER_YEAR
        sudden = from_pmf(
            demand_distribution(
                self.pieces,
                exposure=self.years,
                horizon=horizon,
                alpha=self.prior.shape,
                beta=self.prior.years,
            )
        )
        worn = self.wearing
        if worn is None:
            return sudden
        chances = renewal_distributions(
            [worn.age_hours],
            horizon_hours=horizon * worn.hours_per_year,
            shape=worn.shape,
            scale_hours=worn.scale_hours,
        )
        return convolve(sudden, from_pmf(chances[0]))


def position_asks(as_of: datetime) -> dict[int, PositionAsk]:
    """Of every position whose part is known and which is in use."""
    plant = gather(as_of)
    families = Families(plant)
    return asks_of(plant, families, ((pool, choose(pool, families.prior_of(pool))) for pool in plant.pools))


def asks_of(
    plant: Plant, families: Families, chosen: Iterable[tuple[Pool, Choice]]
) -> dict[int, PositionAsk]:
    found = {}
    for pool, choice in chosen:
        prior = families.prior_of(pool)
        for place in pool.places:
            found[place.position.pk] = _ask(pool, choice, prior, place.position.pk)
    return found


def _ask(pool: Pool, choice: Choice, prior: Prior, position_id: int) -> PositionAsk:
    wearing = _wearing(pool, choice, position_id) if choice.model == "weibull_renewal" else None
    pieces = choice.evidence["sudden_pieces"] if wearing else unplanned_pieces(pool)
    return PositionAsk(position_id, float(pieces), exposure_years(pool), prior, wearing)


def _wearing(pool: Pool, choice: Choice, position_id: int) -> Wearing | None:
    fit = choice.evidence["fit"]
    for life in pool.lives:
        if life.position_id == position_id and life.is_running and life.hours is not None:
            place = next(place for place in pool.places if place.position.pk == position_id)
            hours = place.position.drive.hours_per_year
            return Wearing(life.hours, float(hours), fit["shape"], fit["scale_hours"]) if hours else None
    return None
