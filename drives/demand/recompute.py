"""One recompute from end to end: judge what changed, load the demand, recommend for every part and storeroom."""

from datetime import datetime

from drives.demand.cover_refresh import refresh_cover
from drives.demand.needs import needs_of
from drives.demand.part_groups import store_groups
from drives.demand.plant_estimates import store_estimates
from drives.demand.record_start import store_proposals
from drives.demand.snapshot import load_demand_snapshot
from drives.demand.stored_needs import store_snapshot
from drives.demand.unchanged import digest_of_inputs
from inventory.models import StockingRun
from inventory.planning.runs import carry_out, failing_into, has_changed, keep_lent_times, start_run
from inventory.progress import Progress, unreported
from inventory.stores.lead_times import emergency_hours, lent_times


def recompute(
    *,
    as_of: datetime,
    by: str,
    is_full: bool = False,
    progress: Progress = unreported,
) -> StockingRun:
    """How many of every part to keep, by what is known at a moment; RunRefused while another run is under way."""
    run = start_run(as_of=as_of, by=by, is_full=is_full)
    with failing_into(run):
        if not has_changed(run, digest_of_inputs(as_of)):
            progress(run.done, run.total)
            return run
        refresh_cover(as_of)
        snapshot = load_demand_snapshot(as_of)
        store_estimates(snapshot.estimates)
        store_proposals(snapshot.estimates.starts.proposals)
        needs = needs_of(snapshot)
        store_groups(snapshot.demand.parts)
        store_snapshot(snapshot, needs, as_of=as_of)
        emergencies = emergency_hours(as_of)
        keep_lent_times(run, lent_times(snapshot.lead_times, emergencies))
    return carry_out(run, needs, lead_times=snapshot.lead_times, emergencies=emergencies, progress=progress)
