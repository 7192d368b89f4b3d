"""Planning's resources and their addresses."""

from rest_framework.routers import SimpleRouter

from planning.api import (
    alerts,
    benchmarks,
    closed_seasons,
    crop_plans,
    cut_backs,
    degree_days,
    findings,
    flower_hours,
    harvest_table,
    labour_plans,
    next_tasks,
    pollination_windows,
    pools,
    pruning_windows,
    reconciliation,
    season_comparisons,
    season_summaries,
    species_figures,
    stage_forecasts,
    statements,
    task_rules,
    trace_records,
    traces,
    yield_efficiencies,
)

router = SimpleRouter(trailing_slash=False, use_regex_path=False)
router.register("season-summaries", season_summaries.SeasonSummaryViewSet)
router.register(
    "season-comparisons",
    season_comparisons.SeasonComparisonViewSet,
    basename="season-comparison",
)
router.register(
    "yield-efficiencies",
    yield_efficiencies.YieldEfficiencyViewSet,
    basename="yield-efficiency",
)
router.register("benchmarks", benchmarks.BenchmarkViewSet, basename="benchmark")
router.register("task-rules", task_rules.TaskRuleViewSet)
router.register("schedule-settings", task_rules.ScheduleSettingViewSet)
router.register("species-figures", species_figures.SpeciesFigureViewSet)
router.register(
    "figures-in-force", species_figures.FigureInForceViewSet, basename="figure-in-force"
)
router.register("next-tasks", next_tasks.NextTaskViewSet)
router.register("undated-tasks", next_tasks.UndatedTaskViewSet)
router.register("alerts", alerts.AlertViewSet)
router.register("stage-forecasts", stage_forecasts.StageForecastViewSet)
router.register("stage-backtests", stage_forecasts.StageBacktestViewSet, basename="stage-backtest")
router.register("degree-days", degree_days.DegreeDayViewSet, basename="degree-day")
router.register("labour-plans", labour_plans.LabourPlanViewSet, basename="labour-plan")
router.register("flower-hours", flower_hours.FlowerHoursViewSet)
router.register(
    "pollination-windows",
    pollination_windows.PollinationWindowViewSet,
    basename="pollination-windows",
)
router.register("pruning-windows", pruning_windows.PruningWindowViewSet, basename="pruning-window")
router.register("crop-plans", crop_plans.CropPlanViewSet)
router.register("cut-backs", cut_backs.CutBackViewSet, basename="cut-back")
router.register(
    "co-ops/<uuid:co_op>/harvest", harvest_table.HarvestTableViewSet, basename="co-op-harvest"
)
router.register(
    "co-ops/<uuid:co_op>/reconciliation",
    reconciliation.ReconciliationViewSet,
    basename="co-op-reconciliation",
)
router.register("findings", findings.FindingViewSet)
router.register("traces", traces.TraceViewSet, basename="trace")
router.register("trace-records", trace_records.TraceRecordViewSet, basename="trace-record")
router.register("pools", pools.PoolViewSet)
router.register("pool-deductions", pools.PoolDeductionViewSet)
router.register("statements", statements.StatementViewSet)
router.register("statement-lines", statements.StatementLineViewSet)
router.register("closed-seasons", closed_seasons.ClosedSeasonViewSet)
router.register(
    "co-ops/<uuid:co_op>/closing", closed_seasons.ClosingViewSet, basename="co-op-closing"
)
