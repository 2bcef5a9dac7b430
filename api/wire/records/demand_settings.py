"""Settings of how demand is modelled that this plant sets otherwise than they are shipped."""

from dataclasses import fields
from typing import Any, cast

from rest_framework import serializers
from rest_framework.validators import UniqueValidator

from api.edge.declarations import EVERYBODY
from api.edge.filtering import WordsFilter
from api.edge.parsing import StrictChoiceField, StrictFloatField
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from api.wire.serializers import MemberErrors, RecordSerializer
from inventory.facts import fact
from inventory.models import PlantSetting
from inventory.stocking.demand_settings import FORMS, DemandSettings

NAMES = [spec.name for spec in fields(DemandSettings)]

DEMAND_SETTINGS = declare(
    WireRecord(
        PlantSetting,
        path="demand-settings",
        list_text="What chooses the model of a demand, as set here; `stocking/settings/` lists all of them.",
        key="name",
        scope=EVERYBODY,
        fields="id name value note shipped_value unit least most reason created_at updated_at",
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            more={"name": WordsFilter()}, search="name note", sortable="name updated_at", ordering="name"
        ),
    )
)


class PlantSettingSerializer(RecordSerializer):
    """A setting by name. Without a record its `shipped_value` counts; another one counts from the next recompute on."""

    record = DEMAND_SETTINGS
    name = StrictChoiceField(choices=NAMES, validators=[UniqueValidator(PlantSetting.objects.all())])
    value = StrictFloatField()
    shipped_value = serializers.SerializerMethodField()
    unit = serializers.SerializerMethodField()
    least = serializers.SerializerMethodField()
    most = serializers.SerializerMethodField()
    reason = serializers.SerializerMethodField(help_text="Why this value is shipped.")

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        found = super().check_members(values, faults)
        draft = cast(PlantSetting, self.draft(values))
        if draft.is_out_of_range:
            form = FORMS[draft.name]
            limits = {"least": form.least, "most": form.most}
            found["value"] = [fact("setting_out_of_range", setting=draft.name, **limits)]
        return found

    def get_shipped_value(self, row: PlantSetting) -> float:
        return FORMS[row.name].shipped

    def get_unit(self, row: PlantSetting) -> str:
        return FORMS[row.name].unit

    def get_least(self, row: PlantSetting) -> float:
        return FORMS[row.name].least

    def get_most(self, row: PlantSetting) -> float:
        return FORMS[row.name].most

    def get_reason(self, row: PlantSetting) -> str:
        return FORMS[row.name].reason
