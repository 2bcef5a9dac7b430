from django.apps import AppConfig
from django.contrib.admin import apps as admin_apps
from django.utils.module_loading import autodiscover_modules

JOB_MODULES = (
    "answers.backtest",
    "answers.exposure",
    "answers.frontier",
    "answers.reorder_totals",
    "exchange.import_runs",
    "operations.jobs.recompute",
)


class ApiConfig(AppConfig):
    name = "api"
    default = True

    def ready(self) -> None:
        """Records and kinds of jobs are declared before anything uses them."""
        autodiscover_modules("wire.records", *JOB_MODULES)


class PlantAdminConfig(admin_apps.AdminConfig):
    """The admin whose every page writes to the log of changes."""

    default = False
    default_site = "api.screens.admin_site.PlantAdminSite"
