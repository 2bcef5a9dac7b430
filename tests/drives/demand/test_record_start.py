"""From when the record of a storeroom counts."""

from datetime import date

import pytest

from drives.demand.pools import load_demand_pools
from drives.demand.record_start import RecordDays, load_set_starts, store_proposals
from drives.models import RecordStart
from inventory.facts import fact
from tests.drives.demand.built_pools import event, years_on
from tests.drives.demand.demand_records import day, issue, main_room, put_in_stock, ran, request, sprocket
from tests.drives.demand.test_pools import pool_of
from tests.factories import BushItemFactory, PositionFactory, RecordStartFactory, StoreroomFactory


def record_of(*events, end=20.0, set_starts=None, is_sprocket=True):
    days = RecordDays(years_on(end), set_starts or {})
    for one in events:
        days.add(1, one, is_sprocket=True)
    return days.start(1, is_sprocket=is_sprocket)


def in_year(year, number, **more):
    """So many records of one year, evenly spread."""
    return [event(year + (place + 0.5) / number, **more) for place in range(number)]


def test_one_old_card_does_not_begin_the_record():
    feed = in_year(19, 24, origin="work_orders")
    found = record_of(event(0, origin="requests"), *feed)
    assert (found.at, found.earlier_days) == (feed[0].at, 1)
    assert found.reason.code == "record_starts_where_dense"
    same_source = record_of(event(0, origin="requests"), *in_year(19, 24, origin="requests"))
    assert (same_source.at, same_source.reason.code) == (feed[0].at, "record_starts_where_dense")
    assert same_source.reason.values["earlier_days"] == 1
    assert same_source.reason.values["earlier_years"] == pytest.approx(19, abs=0.05)


def test_a_steady_record_of_one_source_counts_although_another_source_is_young():
    removals = [one for year in range(20) for one in in_year(year, 12, origin="installations")]
    found = record_of(*removals, *in_year(19, 12, origin="work_orders"))
    assert (found.at, found.earlier_days, found.jump) == (removals[0].at, 0, None)


def test_what_a_removal_says_of_sprockets_it_does_not_say_of_chain():
    days = RecordDays(years_on(20), {})
    for one in [item for year in range(20) for item in in_year(year, 12, origin="installations")]:
        days.add(1, one, is_sprocket=True)
    chain = in_year(19, 6, origin="movements")
    for one in chain:
        days.add(1, one, is_sprocket=False)
    assert days.start(1, is_sprocket=False).at == chain[0].at
    assert days.start(1, is_sprocket=True).at == years_on(1 / 24)


def test_a_fall_is_told_and_cuts_nothing():
    full = [one for year in range(5) for one in in_year(year, 24)]
    found = record_of(*full, end=8)
    assert (found.at, found.jump and found.jump.code) == (full[0].at, "record_density_falls")
    assert found.jump is not None
    assert found.jump.values["later_per_year"] == 0


@pytest.mark.django_db
class TestInThePlant:
    def old_card_and_feed(self, a_year=24):
        """A card of another part, eighteen years before a year of records."""
        part, position = sprocket(), PositionFactory()
        ran(position, part, 0)
        request(-6570, BushItemFactory())
        for number in range(a_year):
            request(365 * number / a_year, part, position, work_order=f"WO-{number}")
        return part

    def test_an_old_card_of_another_part_leaves_the_rate_as_it_is(self):
        pool = pool_of(self.old_card_and_feed(), until=365)
        assert len(pool.events) / pool.exposure_years == pytest.approx(24)
        assert pool.record_from == day(0)

    def test_what_lies_before_is_a_life_and_no_exposure(self):
        part = self.old_card_and_feed()
        elsewhere = PositionFactory()
        ran(elsewhere, part, -6500, -4000, "failure", mechanism="wear", work_order="OLD-1")
        pool = pool_of(part, until=365)
        assert [life.removed_at for life in pool.lives if life.removed_at] == [day(-4000)]
        assert [one.work_order for one in pool.earlier_events] == ["OLD-1"]
        assert "OLD-1" not in {one.work_order for one in pool.events}
        assert pool.record_years == pytest.approx(1.0)

    def test_a_day_set_by_a_person_counts_and_a_rise_after_it_is_told(self):
        part = self.old_card_and_feed()
        RecordStartFactory(
            storeroom=main_room(), complete_from=day(-6600).date(), note="cards kept since then"
        )
        pool = pool_of(part, until=365)
        assert pool.record_years == pytest.approx(19, abs=0.1)
        assert pool.record.reason == fact("record_start_set", source="requests", note="cards kept since then")

    def test_of_several_sources_the_earliest_day_that_is_set_counts(self):
        for source, on in (("requests", date(2020, 3, 1)), ("movements", date(2019, 3, 1))):
            RecordStartFactory(storeroom=main_room(), source=source, complete_from=on)
        RecordStartFactory(storeroom=main_room(), source="installations")
        assert load_set_starts()[main_room().pk].source == "movements"

    def test_proposals_are_stored_beside_what_a_person_set(self):
        self.old_card_and_feed()
        RecordStartFactory(storeroom=main_room(), complete_from=date(2020, 3, 1), note="mine")
        for _ in range(2):
            store_proposals(load_demand_pools(day(365)).starts.proposals)
        rows = {row.source: row for row in RecordStart.objects.all()}
        assert rows.keys() == {"requests"}
        own = rows["requests"]
        assert (own.complete_from, own.note, own.proposed_from) == (date(2020, 3, 1), "mine", day(0))
        assert own.reason["code"] == "record_starts_where_dense"

    def test_each_storeroom_has_a_beginning_of_its_own(self):
        part = self.old_card_and_feed()
        north = StoreroomFactory(code="NORTH")
        request(-2000, part, storeroom=north)
        assert pool_of(part, north, until=365).record_from == day(-2000)
        assert pool_of(part, until=365).record_from == day(0)

    def test_movements_and_orders_of_the_feed_are_told_apart(self):
        bush = BushItemFactory()
        put_in_stock(bush)
        issue(10, bush)
        request(30, bush, reference="wo:0123:1")
        origins = {source for _, source in load_demand_pools(day(365)).starts.proposals}
        assert origins == {"movements", "work_orders"}
