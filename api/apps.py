import os

from django.apps import AppConfig
from django.contrib.admin import apps as admin_apps
from django.core.management import call_command
from django.utils.module_loading import autodiscover_modules
from django.utils.translation import gettext_lazy as _

from api.wording.catalogues import uncompiled

JOB_MODULES = (
    "answers.assortment",
    "answers.backtest",
    "answers.exposure",
    "answers.figures",
    "answers.frontier",
    "answers.reorder_totals",
    "answers.stock_changes",
    "exchange.feeds.taking",
    "exchange.import_runs",
    "exchange.set_runs",
    "operations.jobs.recompute",
)


class ApiConfig(AppConfig):
    name = "api"
    verbose_name = _("Access and changes")
    default = True

    def ready(self) -> None:
        """Records, kinds of jobs and checks are declared before anything uses them, and texts compiled where they have changed."""
        checks = ("edge.caller_address", "operations.older_database", "operations.database_encoding")
        autodiscover_modules("wire.records", *checks, *JOB_MODULES)
        if any(os.access(path.parent, os.W_OK) for path in uncompiled()):
            call_command("compile_texts")


class PlantAdminConfig(admin_apps.AdminConfig):
    """The admin whose every page writes to the log of changes."""

    default = False
    default_site = "api.screens.admin_site.PlantAdminSite"
