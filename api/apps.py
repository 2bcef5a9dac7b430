from django.apps import AppConfig
from django.contrib.admin import apps as admin_apps


class ApiConfig(AppConfig):
    name = "api"
    default = True


class PlantAdminConfig(admin_apps.AdminConfig):
    """The admin whose every page writes to the log of changes."""

    default = False
    default_site = "api.admin_site.PlantAdminSite"
