"""The records' resources and their addresses."""

from rest_framework.routers import SimpleRouter

from records.api import (
    batches,
    co_ops,
    farm_workbooks,
    farms,
    field,
    fruit,
    harvest,
    history,
    imports,
    invitations,
    plants,
    pollination,
    shed,
    tokens,
    traceability,
    weather,
)

router = SimpleRouter(trailing_slash=False, use_regex_path=False)
router.register("co-ops", co_ops.CoOpViewSet)
router.register("memberships", co_ops.MembershipViewSet)
router.register("co-op-grades", co_ops.CoOpGradeViewSet)
router.register("farms", farms.FarmViewSet)
router.register("farm-workbooks", farm_workbooks.FarmWorkbookViewSet, basename="farm-workbook")
router.register("season-starts", farms.SeasonStartViewSet)
router.register("farm-roles", co_ops.FarmRoleViewSet)
router.register("species", plants.SpeciesViewSet)
router.register("cultivars", plants.CultivarViewSet)
router.register("blocks", plants.BlockViewSet)
router.register("planting-lines", plants.PlantingLineViewSet)
router.register("trees", plants.TreeViewSet)
router.register("grafts", plants.GraftViewSet)
router.register("containers", harvest.ContainerViewSet)
router.register("grades", harvest.GradeViewSet)
router.register("grade-mappings", harvest.GradeMappingViewSet)
router.register("crops", harvest.CropViewSet)
router.register("harvest-weights", harvest.HarvestWeightViewSet)
router.register("deliveries", shed.DeliveryViewSet)
router.register("intakes", shed.IntakeViewSet)
router.register("lots", shed.LotViewSet)
router.register("trace-coverages", traceability.TraceCoverageViewSet)
router.register("task-logs", field.TaskLogViewSet)
router.register("growth-stages", field.GrowthStageViewSet)
router.register("trunk-girths", field.TrunkGirthViewSet)
router.register("pollen-batches", pollination.PollenBatchViewSet)
router.register("pollination-rounds", pollination.PollinationRoundViewSet)
router.register("fruit-counts", fruit.FruitCountViewSet)
router.register("fruit-samples", fruit.FruitSampleViewSet)
router.register("weather-stations", weather.WeatherStationViewSet)
router.register("weather-days", weather.WeatherDayViewSet)
router.register("harvest-imports", imports.HarvestImportViewSet)
router.register("file-batches", batches.FileBatchViewSet)
router.register("batch-files", batches.BatchFileViewSet)
router.register("file-layouts", imports.FileLayoutViewSet)
router.register("invitations", invitations.InvitationViewSet)
router.register("tokens", tokens.TokenViewSet)
router.register("history", history.HistoryViewSet, basename="history")
