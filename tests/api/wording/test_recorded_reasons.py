import pytest
from django.utils.translation import override

from api.screens.counter.acts import UNDOING
from api.wording.recorded_reasons import ALLOWED_BY, recorded_reason
from drives.feed.recorded_texts import recorded_text


@pytest.mark.parametrize(
    ("stored", "english", "german"),
    [
        ("undone_at_counter", "Undone at the counter", "An der Ausgabe rückgängig gemacht"),
        # As it was written before there was a code.
        ("Undone at the counter", "Undone at the counter", "An der Ausgabe rückgängig gemacht"),
        ("Undone on the page", "Undone on the page", "Auf der Seite rückgängig gemacht"),
        (
            "Merge 7 undone: undone_on_page",
            "Merge 7 undone: Undone on the page",
            "Zusammenführung 7 rückgängig gemacht: Auf der Seite rückgängig gemacht",
        ),
        (
            "SPR-1 merged into SPR-2: one drawing",
            "SPR-1 merged into SPR-2: one drawing",
            "SPR-1 zu SPR-2 zusammengeführt: one drawing",
        ),
        (
            recorded_text("no_longer_in_order", order="WO-7"),
            "no longer in work order WO-7",
            "nicht mehr im Auftrag WO-7",
        ),
        (
            ALLOWED_BY.format(why="until noon", name="I. Brandt"),
            "until noon (allowed by I. Brandt)",
            "until noon (erlaubt von I. Brandt)",
        ),
        ("The shelf was empty.", "The shelf was empty.", "Das Fach war leer."),
        ("Undone at the counter by me", "Undone at the counter by me", "Undone at the counter by me"),
        ("{reason}", "{reason}", "{reason}"),
    ],
)
def test_what_the_service_wrote_itself_is_said_in_the_language_of_the_reader(stored, english, german):
    for language, said in (("en", english), ("de", german)):
        with override(language):
            assert recorded_reason(stored) == said


def test_every_undo_of_a_page_gives_a_reason_that_is_said():
    given = [body["reason"] for body in UNDOING.values() if body]
    assert given
    assert all(recorded_reason(one) != one for one in given)
