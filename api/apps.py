from django.apps import AppConfig
from django.contrib.admin import apps as admin_apps
from django.utils.module_loading import autodiscover_modules


class ApiConfig(AppConfig):
    name = "api"
    default = True

    def ready(self) -> None:
        """Records are declared before anything asks what a caller may see of them."""
        autodiscover_modules("wire.records")


class PlantAdminConfig(admin_apps.AdminConfig):
    """The admin whose every page writes to the log of changes."""

    default = False
    default_site = "api.admin_site.PlantAdminSite"
