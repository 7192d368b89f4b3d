"""When the stages of a crop come: a date and its 80 % interval each, and why.

* what was seen stands, and everything after it is counted anew from it
* counted from the latest event of the crop that the stage depends on: in days or in degree days as
  in the block's earlier seasons, or by the species' range (`spread` has the formulas, `estimates`
  and `base` the choice among methods)
* counted from a stage that is itself only forecast, the two intervals add up in quadrature
* where nothing of the crop is on record, by the mean day of the block's earlier seasons
* where that is not known either, no date, and what is missing

Days are farm-local. The 80 % interval leaves a tenth of the seasons on either side.
"""

from planning.compute.stage_forecasts.backtests import Score, Trial, scores, trial_days, trials
from planning.compute.stage_forecasts.heat import Heat
from planning.compute.stage_forecasts.sights import CropDays, Done, Recorded, Seen, Span, cycle_of
from planning.compute.stage_forecasts.surprises import Surprise, surprise
from planning.compute.stage_forecasts.values import (
    BBCH,
    STAGES,
    Cycle,
    DayRange,
    Forecast,
    ForecastError,
    Method,
    Sight,
    SpeciesFacts,
    Stage,
)
from planning.compute.stage_forecasts.walk import (
    Crop,
    forecast_from_plan,
    forecast_of,
    forecasts,
)

__all__ = [
    "BBCH",
    "STAGES",
    "Crop",
    "CropDays",
    "Cycle",
    "DayRange",
    "Done",
    "Forecast",
    "ForecastError",
    "Heat",
    "Method",
    "Recorded",
    "Score",
    "Seen",
    "Sight",
    "Span",
    "SpeciesFacts",
    "Stage",
    "Surprise",
    "Trial",
    "cycle_of",
    "forecast_from_plan",
    "forecast_of",
    "forecasts",
    "scores",
    "surprise",
    "trial_days",
    "trials",
]
