from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "planning"
    verbose_name = "Planning"

    def ready(self) -> None:
        """Register the job handlers in every process, Celery's or not."""
        from planning import tasks  # noqa: F401 - importing it is what registers them
