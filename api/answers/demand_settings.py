"""All settings that choose how demand is modelled: value in force, unit, range and reason."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.viewsets import StrictAPIView
from inventory.catalogue.plant_practice import current_demand_settings
from inventory.stocking.demand_settings import FORMS


class DemandSettingSerializer(serializers.Serializer[Any]):
    name = serializers.CharField()
    value = serializers.FloatField(help_text="In force.")
    shipped_value = serializers.FloatField()
    unit = serializers.CharField()
    least = serializers.FloatField()
    most = serializers.FloatField()
    reason = serializers.CharField(help_text="Why that value is shipped.")


class DemandSettingListSerializer(serializers.Serializer[Any]):
    settings = DemandSettingSerializer(many=True)


class DemandSettingsView(StrictAPIView):
    """Every setting that chooses the model of a demand. `demand-settings/` sets one."""

    is_list = True
    rows_member = "settings"

    @extend_schema(responses=DemandSettingListSerializer)
    def get(self, request: Request) -> Response:
        current = current_demand_settings()
        rows = [
            {
                "name": name,
                "value": getattr(current, name),
                "shipped_value": form.shipped,
                "unit": form.unit,
                "least": form.least,
                "most": form.most,
                "reason": form.reason,
            }
            for name, form in FORMS.items()
        ]
        return self.listed(DemandSettingListSerializer({"settings": rows}))
