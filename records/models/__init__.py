"""The records, one module a family."""

from records.models.farms import CoOp, Farm, Membership, SeasonStart
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
    ImportFile,
    ImportProblem,
)
from records.models.jobs import FarmTick, Job, Tombstone
from records.models.people import CoOpRole, FarmRole, Person, Token
from records.models.plants import Block, Cultivar, Graft, PlantingLine, Species, Tree

__all__ = [
    "Block",
    "CoOp",
    "CoOpGrade",
    "CoOpRole",
    "Container",
    "Crop",
    "Cultivar",
    "Farm",
    "FarmRole",
    "FarmTick",
    "FileLayout",
    "Grade",
    "GradeMapping",
    "Graft",
    "HarvestImport",
    "HarvestWeight",
    "HarvestWeightTree",
    "ImportFile",
    "ImportProblem",
    "ImportedChange",
    "Job",
    "Membership",
    "Person",
    "PlantingLine",
    "SeasonStart",
    "Species",
    "Token",
    "Tombstone",
    "Tree",
]
