from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "records"
    verbose_name = "Records"
