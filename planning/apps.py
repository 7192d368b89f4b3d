from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "planning"
    verbose_name = "Planning"

    def ready(self) -> None:
        """Register the job handlers in every process, Celery's or not, and what is audited."""
        from planning import history, tasks  # noqa: F401 - importing them is what registers
