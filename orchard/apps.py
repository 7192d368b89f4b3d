from django.apps import AppConfig
from django.contrib.admin import apps as admin_apps


class OrchardConfig(AppConfig):
    name = "orchard"
    verbose_name = "Orchard service"
    default = True


class AdminConfig(admin_apps.AdminConfig):
    """Django's admin, with this project's site."""

    default_site = "orchard.site.Site"
    default = False
