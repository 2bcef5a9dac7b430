import pytest
from django.apps import apps
from django.utils import translation
from django.utils.functional import Promise

from inventory.models import OpeningHours

CHOICES = [
    (f"{model.__name__}.{field.name}", field.choices)
    for app in ("inventory", "drives", "api")
    for model in apps.get_app_config(app).get_models()
    for field in model._meta.concrete_fields
    if field.choices
]


@pytest.mark.parametrize(("name", "choices"), CHOICES, ids=[name for name, _ in CHOICES])
def test_every_choice_has_a_label_to_translate(name: str, choices: list[tuple[object, object]]) -> None:
    assert all(isinstance(label, Promise) for value, label in choices if value not in ("", None))


def test_a_label_follows_the_language_of_the_reader() -> None:
    hours = OpeningHours(weekday=0)

    with translation.override("de"):
        assert hours.get_weekday_display() == "Montag"
    assert hours.get_weekday_display() == "Monday"
