from zoneinfo import ZoneInfo

from django.utils import timezone, translation

from api.wording.sentences import sentence
from inventory.facts import fact

LATE = fact("on_order_too_late", due_on="2026-05-12")
COUNTED = fact("counted_again_since", counted_at="2026-05-12T22:30+00:00")


def test_a_day_is_in_the_one_style_of_the_language() -> None:
    assert sentence(LATE) == "On order, due 12 May 2026: too late."
    with translation.override("de"):
        assert "12. Mai 2026" in sentence(LATE)


def test_a_moment_is_in_the_time_of_the_page() -> None:
    assert "12 May 2026 22:30" in sentence(COUNTED)
    with timezone.override(ZoneInfo("Europe/Berlin")):
        assert "13 May 2026 00:30" in sentence(COUNTED)


def test_what_only_looks_like_a_day_stays_as_it_is() -> None:
    assert "2026-05-12" in sentence(fact("item_run_down", stock_number="2026-05-12"))
