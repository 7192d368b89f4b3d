from django.apps import AppConfig


class OrchardConfig(AppConfig):
    name = "orchard"
    verbose_name = "Orchard service"
