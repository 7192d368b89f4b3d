"""What planning adds to a farm's audit history: rules, settings, and what people decided."""

from planning import models
from records.services.history import register

register("task-rules", models.TaskRule)
register("schedule-settings", models.ScheduleSetting)
register("crop-plans", models.CropPlan)
register("species-figures", models.SpeciesFigure)
register("flower-hours", models.FlowerHours)
register("task-choices", models.TaskChoice)
register("alert-acknowledgements", models.AlertAcknowledgement)
register("findings", models.Finding)
