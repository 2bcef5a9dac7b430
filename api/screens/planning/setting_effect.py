"""What a setting would change, calculated by a job for the page that asks before it is saved."""

import json
from typing import Any

from django.db.models import Model
from django.utils import timezone

from api.operations.jobs.calculations import declare_calculation
from api.screens.planning.setting_forms import SETTINGS, SHOP_TIMES, TERMS, SettingOnPage
from drives.demand.effect_of_setting import EffectOfSetting, effect_of_setting
from inventory.progress import Progress, unreported

ASKED = "effect"
"""In a form and in an address: show what it would change, and set nothing."""

ONLY = 1
"""Id of the terms."""


def parameters_of(kind: str, key: str, values: dict[str, Any]) -> dict[str, str]:
    return {"kind": kind, "key": key, "values": json.dumps(values, sort_keys=True)}


def calculate_effect(kind: str, key: str, values: str, progress: Progress = unreported) -> EffectOfSetting:
    given = json.loads(values)
    return effect_of_setting(
        lambda: _set(kind, key, given),
        as_of=timezone.now(),
        is_work_judged=kind == SHOP_TIMES,
        progress=progress,
    )


def _set(kind: str, key: str, values: dict[str, Any]) -> None:
    """As the API does with these values, which it has judged before."""
    found = SETTINGS[kind]
    record: Any = _record(found, key)
    for name, value in values.items():
        column: Any = found.model._meta.get_field(name)
        setattr(record, name, column.to_python(value))
    if kind == TERMS:
        record.are_set = True
    record.save()


def _record(found: SettingOnPage, key: str) -> Model:
    """What the plant has not set yet is new; of the terms there is one row."""
    if not found.column:
        return found.model._default_manager.filter(pk=ONLY).first() or found.model(pk=ONLY)
    rows = found.model._default_manager.filter(**{found.column: key})
    return rows.get() if not found.keys else rows.first() or found.model(**{found.column: key})


SETTING_EFFECT = declare_calculation(
    "setting_effect", EffectOfSetting, calculate_effect, usual_seconds=6.0, address="screens:settings"
)
