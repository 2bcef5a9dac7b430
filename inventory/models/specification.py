"""Specifications: the attributes of a part, independent of its maker and number."""

from typing import Any

from django.db import models
from django.db.models import Func, Q
from django.db.models.functions import Upper
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.interchange.vocabulary import BoreType, HubStyle, KeyStandard, Material, RoleKind
from inventory.models.engagement import ENGAGEMENT_LENGTHS, ChainEngagement
from inventory.models.fields import Stamped, check, filters, length_mm, one_of, orders, positive, within, word
from inventory.models.text_index import TextIndex
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS

LENGTHS = (
    *ENGAGEMENT_LENGTHS,
    "bore_mm",
    "max_bore_mm",
    "keyway_width_mm",
    "keyway_depth_mm",
    "hex_across_flats_mm",
    "hub_diameter_mm",
    "hub_diameter_2_mm",
    "length_through_bore_mm",
    "outside_diameter_mm",
    "tooth_width_mm",
    "key_height_mm",
    "key_length_mm",
)

NOT_ATTRIBUTES = frozenset({"id", "kind", "created_at", "updated_at"})


class PartKind(models.TextChoices):
    SPROCKET = "sprocket", _("sprocket")
    BUSH = "bush", _("bush")
    KEY = "key", _("key")
    CHAIN = "chain", _("chain")
    JOINING_LINK = "joining_link", _("joining link")
    CRANKED_LINK = "cranked_link", _("cranked link")
    HUB = "hub", _("hub")
    OTHER = "other", _("other")


CHAIN_KINDS = frozenset({PartKind.CHAIN, PartKind.JOINING_LINK, PartKind.CRANKED_LINK})
"""What is cut for one chain alone: the chain, and the links that join it."""


def keyway_sql(width: str, depth: str, standard: str) -> str:
    """The keyway of a bush as one text without NULL, so that an index leads from each kind of bush to the next."""
    return f"(COALESCE(CAST({width} AS text), '') || ' ' || COALESCE(CAST({depth} AS text), '') || ' ' || {standard})"


class KeywayText(Func):
    output_field = models.TextField()

    def as_sql(self, compiler: Any, connection: Any, **extra: Any) -> Any:  # type: ignore[override]
        return keyway_sql(*(compiler.compile(column)[0] for column in self.get_source_expressions())), ()


class Specification(ChainEngagement, Stamped):
    kind = models.CharField(max_length=12, choices=PartKind.choices, default=PartKind.SPROCKET)
    teeth = models.PositiveSmallIntegerField(null=True, blank=True)
    role_kind = word(RoleKind)
    hub_style = word(HubStyle)
    bore_type = word(BoreType)
    bore_mm = length_mm(help_text=_("Bore as it is now, in mm; of a bush, the bore that takes the shaft."))
    max_bore_mm = length_mm(help_text=_("Greatest bore with keyway that the hub allows, in mm."))
    keyway_width_mm = length_mm()
    keyway_depth_mm = length_mm(help_text=_("Depth in the hub, in mm."))
    key_standard = word(KeyStandard)
    set_screws = models.PositiveSmallIntegerField(null=True, blank=True)
    bush_size = models.CharField(
        max_length=6,
        blank=True,
        help_text=_("Size of the bush that it takes, or of the bush itself, such as 1610 or SDS."),
    )
    hex_across_flats_mm = length_mm()
    hub_diameter_mm = length_mm()
    hub_diameter_2_mm = length_mm(help_text=_("Other hub of an unequal type C, in mm."))
    length_through_bore_mm = length_mm()
    outside_diameter_mm = length_mm()
    tooth_width_mm = length_mm(help_text=_("Width of one row of teeth, in mm."))
    material = word(Material)
    material_grade = models.CharField(max_length=30, blank=True, help_text=_("Such as C45, 304, 316, PA 6."))
    hardened_teeth = models.BooleanField(null=True, blank=True)
    food_contact = models.BooleanField(
        null=True, blank=True, help_text=_("Declared suitable for food contact.")
    )
    non_sparking = models.BooleanField(
        null=True, blank=True, help_text=_("Declared suitable for explosive atmospheres.")
    )
    single_cut = models.BooleanField(
        null=True, blank=True, help_text=_("Double pitch: one gap per chain pitch.")
    )
    key_height_mm = length_mm(help_text=_("Of a key: its height, in mm."))
    key_length_mm = length_mm(help_text=_("Of a key: its length, in mm."))
    mass_kg = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(fields=["kind", "pitch_mm", "teeth"], name="specification_shortlist"),
            # Of bushes alone, so that no search for sprockets takes one of them for a short way.
            models.Index(
                Upper("bush_size"),
                "bore_mm",
                KeywayText("keyway_width_mm", "keyway_depth_mm", "key_standard"),
                condition=Q(kind="bush"),
                name="specification_bush",
            ),
            # Of what goes with a chain, few beside the sprockets for it.
            models.Index(
                fields=["chain_designation", "strands", "kind"],
                condition=~Q(kind="sprocket"),
                name="specification_beside_chain",
            ),
            models.Index(fields=["kind", "keyway_width_mm"], name="specification_key"),
            # Found by chain and teeth. Of sprockets alone, so that the search for substitutes goes its own way.
            models.Index(
                fields=["chain_designation", "teeth", "strands"],
                condition=Q(kind="sprocket"),
                name="specification_of_chain",
            ),
            *orders(
                "specification", "chain_designation teeth strands bore_mm updated_at", known_only="pitch_mm"
            ),
            *filters(
                "spec",
                "",
                words="role_kind hub_style bore_type key_standard bush_size material material_grade",
                known_only=(
                    "roller_diameter_mm inner_width_mm transverse_pitch_mm max_bore_mm keyway_width_mm keyway_depth_mm "
                    "set_screws hex_across_flats_mm hub_diameter_mm hub_diameter_2_mm length_through_bore_mm "
                    "outside_diameter_mm tooth_width_mm hardened_teeth food_contact non_sparking single_cut "
                    "key_height_mm key_length_mm mass_kg"
                ),
            ),
            TextIndex(fields=["chain_designation", "bush_size", "material_grade"], name="specification_text"),
        ]
        constraints = [
            *positive("specification", (*LENGTHS, "mass_kg")),
            within("specification", "teeth", *COUNTED_TEETH),
            within("specification", "strands", *STRANDS),
            within("specification", "set_screws", 0, 8),
            one_of("specification", "hub_style", HubStyle),
            one_of("specification", "bore_type", BoreType),
            one_of("specification", "material", Material),
            one_of("specification", "key_standard", KeyStandard),
            one_of("specification", "role_kind", RoleKind),
            one_of("specification", "kind", PartKind, optional=False),
            check(
                "specification_bore_not_above_greatest",
                Q(bore_mm__isnull=True)
                | Q(max_bore_mm__isnull=True)
                | Q(max_bore_mm__gte=models.F("bore_mm")),
                _("max_bore_mm must not be smaller than bore_mm."),
            ),
        ]

    def __str__(self) -> str:
        teeth = gettext("{teeth} teeth").format(teeth=self.teeth) if self.teeth else ""
        names = (self.get_kind_display(), self.chain_designation or self.bush_size, teeth)
        return " ".join(str(name) for name in names if name)

    def tells_apart(self) -> bool:
        """Whether anything beside the kind is recorded."""
        own = [field for field in self._meta.concrete_fields if field.name not in NOT_ATTRIBUTES]
        return any(getattr(self, field.attname) != field.get_default() for field in own)

    def clean(self) -> None:
        self.adopt_designation()
