"""From when the record of a storeroom is complete: proposed, set by a manager."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from drives.demand.recompute import recompute
from drives.models import RecordStart
from inventory.models import Recommendation
from tests.api.records import change
from tests.factories import RecordStartFactory, RequestFactory, StoreroomFactory

pytestmark = pytest.mark.django_db
PATH = "/api/v1/record-starts/"


def tomorrow():
    return timezone.now().date() + timedelta(days=1)


def codes(response):
    return {row["pointer"]: row["code"] for row in response.json()["errors"]}


def test_a_day_before_any_record_is_refused_as_moments_are(as_manager):
    row = RecordStartFactory(storeroom=StoreroomFactory())
    changed = change(as_manager, f"{PATH}{row.pk}/", {"complete_from": "1700-01-01"})
    assert (changed.status_code, codes(changed)) == (400, {"/complete_from": "moment_implausible"})
    row.refresh_from_db()
    assert row.complete_from is None


def test_a_day_in_the_future_is_refused_and_nothing_is_written(as_manager):
    room = StoreroomFactory()
    day = {"complete_from": (tomorrow() + timedelta(days=1)).isoformat()}
    created = as_manager.post(PATH, {"storeroom": room.code, "source": "requests", **day})
    assert (created.status_code, codes(created)) == (400, {"/complete_from": "record_start_in_future"})
    assert not RecordStart.objects.exists()
    row = RecordStartFactory(storeroom=room)
    changed = change(as_manager, f"{PATH}{row.pk}/", day)
    assert (changed.status_code, codes(changed)) == (400, {"/complete_from": "record_start_in_future"})
    row.refresh_from_db()
    assert row.complete_from is None


def test_today_counts_by_the_calendar_of_the_storeroom():
    row = RecordStartFactory.build(storeroom=StoreroomFactory(timezone="Pacific/Kiritimati"))
    at = timezone.now().replace(hour=12)
    row.complete_from = at.date() + timedelta(days=1)
    assert not row.lies_in_future(at)  # 02:00 of the next day there.
    row.complete_from = at.date() + timedelta(days=2)
    assert row.lies_in_future(at)
    row.complete_from = at.date() + timedelta(days=9)
    with pytest.raises(ValidationError) as refused:
        row.clean()
    assert refused.value.error_dict.keys() == {"complete_from"}


def test_the_recommendation_says_from_when_requests_count(as_manager):
    part = RequestFactory(at=timezone.now() - timedelta(days=6000)).item
    for number in range(20):
        RequestFactory(item=part, at=timezone.now() - timedelta(days=10 + 17 * number))
    recompute(as_of=timezone.now(), by="test")
    (row,) = as_manager.get(PATH).json()["results"]
    assert (row["source"], row["complete_from"]) == ("requests", None)
    assert row["reason"]["code"] == "record_starts_where_dense"
    assert row["reason"]["values"]["earlier_days"] == 1
    (advice,) = Recommendation.objects.current()
    (told,) = [reason for reason in advice.explanation if reason["code"] == "record_complete_from"]
    assert told["values"]["earlier_requests"] == 1
    # Twenty in 0.9 years, by months and a little less by SBA; with the old one it would be 1.3 a year.
    assert 15 < advice.rate_per_year < 25


def test_a_day_that_is_set_changes_the_next_recommendation(as_manager):
    part = RequestFactory(at=timezone.now() - timedelta(days=1998)).item
    for number in range(12):
        RequestFactory(item=part, at=timezone.now() - timedelta(days=10 + 30 * number))
    recompute(as_of=timezone.now(), by="test")
    before = Recommendation.objects.current().get().rate_per_year
    (row,) = as_manager.get(PATH).json()["results"]
    day = (timezone.now() - timedelta(days=2000)).date().isoformat()
    assert (
        change(
            as_manager, f"{PATH}{row['id']}/", {"complete_from": day, "note": "book since then"}
        ).status_code
        == 200
    )
    recompute(as_of=timezone.now(), by="test")
    advice = Recommendation.objects.current().get()
    # Thirteen requests in 5.5 years: 2.4 a year, and the monthly forecast weighs the last year more.
    assert 13 / 5.5 < advice.rate_per_year < before / 2
    codes_told = [reason["code"] for reason in advice.explanation]
    assert "record_complete_from" in codes_told
    assert "record_density_rises" in codes_told
