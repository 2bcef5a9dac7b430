"""What was measured beside a count: attributes of the specification that were not recorded before."""

from dataclasses import replace
from typing import Any

from api.wire.records.specifications import SPECIFICATIONS
from api.wire.serializers import ActSerializer
from inventory.catalogue.measured_attributes import MEASURABLE


class MeasuredSerializer(ActSerializer):
    """Attributes of the item as measured at the shelf, each not recorded until now; null and what is left out was not measured."""

    record = replace(SPECIFICATIONS, fields=" ".join(MEASURABLE))

    def get_fields(self) -> Any:
        fields = super().get_fields()
        for field in fields.values():
            field.required = False
        return fields

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        """By the name of the attribute."""
        values = super().to_internal_value(data)
        return {
            name: values[field.source]
            for name, field in self.fields.items()
            if values.get(field.source) not in (None, "")
        }
