"""The chain of a part or drive: its dimensions and, if standard, its designation."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import length_mm
from inventory.models.messages import invalid
from inventory.standards.chains import Chain, UnknownChain, find_chain

ENGAGEMENT_LENGTHS = ("pitch_mm", "roller_diameter_mm", "inner_width_mm", "transverse_pitch_mm")
DESIGNATION_TOLERANCE_MM = Decimal("0.1")
"""Tables differ by rounding and edition; a larger difference is another chain."""


class ChainEngagement(models.Model):
    """Mixin: an optional designation, and the dimensions, filled from the standard."""

    chain_designation = models.CharField(
        max_length=12,
        blank=True,
        help_text=_("Designation of the chain, such as 08B or 60H; empty for a chain outside the standards."),
    )
    pitch_mm = length_mm(help_text=_("Chain pitch in mm."))
    roller_diameter_mm = length_mm(help_text=_("Greatest roller (or bush) diameter of the chain in mm."))
    inner_width_mm = length_mm(help_text=_("Least inner width of the chain in mm."))
    transverse_pitch_mm = length_mm(help_text=_("Distance between strands in mm."))
    strands = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        abstract = True

    def standard_chain(self) -> Chain | None:
        return find_chain(self.chain_designation) if self.chain_designation else None

    def adopt_designation(self) -> None:
        """Normalize the designation and fill in missing dimensions from the standard."""
        try:
            chain = self.standard_chain()
        except UnknownChain as error:
            raise ValidationError(
                {"chain_designation": invalid(error.fact.code, **error.fact.values)}
            ) from error
        if chain is None:
            return
        self.chain_designation = chain.designation
        for name in ENGAGEMENT_LENGTHS:
            self._adopt(name, getattr(chain, name))

    def _adopt(self, name: str, standard_mm: float | None) -> None:
        own = getattr(self, name)
        if standard_mm is None:
            return
        if own is None:
            setattr(self, name, Decimal(str(standard_mm)))
        elif abs(Decimal(own) - Decimal(str(standard_mm))) > DESIGNATION_TOLERANCE_MM:
            raise ValidationError(
                {
                    name: invalid(
                        "dimension_not_of_the_chain",
                        given_mm=float(own),
                        chain=self.chain_designation,
                        standard_mm=standard_mm,
                    )
                }
            )
