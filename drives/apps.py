from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class DrivesConfig(AppConfig):
    name = "drives"
    verbose_name = _("Plants and drives")
