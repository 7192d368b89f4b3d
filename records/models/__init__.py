"""The records, one module a family."""

from records.models.batches import BatchFile, FileBatch
from records.models.farms import CoOp, Farm, Membership, SeasonStart
from records.models.field import GrowthStage, TaskLog, TaskLogTree
from records.models.fruit import FruitCount, FruitCountRound, FruitCountTree, FruitSample
from records.models.harvest import (
    Container,
    CoOpGrade,
    Crop,
    Grade,
    GradeMapping,
    HarvestWeight,
    HarvestWeightTree,
)
from records.models.imports import (
    FileLayout,
    HarvestImport,
    ImportedChange,
    ImportedRecord,
    ImportFile,
    ImportFilePart,
    ImportProblem,
    ProposedChange,
)
from records.models.invitations import Invitation
from records.models.jobs import FarmTick, Job, Tombstone
from records.models.people import CoOpRole, FarmRole, Person, Token
from records.models.plants import Block, Cultivar, Graft, PlantingLine, Species, Tree, TrunkGirth
from records.models.pollination import (
    PollenBatch,
    PollenDonorCultivar,
    PollenDonorTree,
    PollinationRound,
    PollinationRoundTree,
)
from records.models.shed import Delivery, DeliveryWeight, Intake, Lot, LotLine, SortedWeight
from records.models.traceability import TraceCoverage
from records.models.weather import StationUse, WeatherDay, WeatherStation

__all__ = [
    "BatchFile",
    "Block",
    "CoOp",
    "CoOpGrade",
    "CoOpRole",
    "Container",
    "Crop",
    "Cultivar",
    "Delivery",
    "DeliveryWeight",
    "Farm",
    "FarmRole",
    "FarmTick",
    "FileBatch",
    "FileLayout",
    "FruitCount",
    "FruitCountRound",
    "FruitCountTree",
    "FruitSample",
    "Grade",
    "GradeMapping",
    "Graft",
    "GrowthStage",
    "HarvestImport",
    "HarvestWeight",
    "HarvestWeightTree",
    "ImportFile",
    "ImportFilePart",
    "ImportProblem",
    "ImportedChange",
    "ImportedRecord",
    "Intake",
    "Invitation",
    "Job",
    "Lot",
    "LotLine",
    "Membership",
    "Person",
    "PlantingLine",
    "PollenBatch",
    "PollenDonorCultivar",
    "PollenDonorTree",
    "PollinationRound",
    "PollinationRoundTree",
    "ProposedChange",
    "SeasonStart",
    "SortedWeight",
    "Species",
    "StationUse",
    "TaskLog",
    "TaskLogTree",
    "Token",
    "Tombstone",
    "TraceCoverage",
    "Tree",
    "TrunkGirth",
    "WeatherDay",
    "WeatherStation",
]
