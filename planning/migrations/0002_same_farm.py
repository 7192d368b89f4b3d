"""Links stay within a farm and go with what they point at; the change feed's indexes."""

from django.db import migrations

from planning.migrations._links import parent_key, same_farm, tick_indexes

CASCADE = " ON DELETE CASCADE"
# child table, column, parent table, what becomes of the row when the parent goes
LINKS = [
    ("seasonsummary", "block_id", "records_block", CASCADE),
    ("seasonsummary", "crop_id", "records_crop", CASCADE),
    ("taskrule", "block_id", "records_block", ""),
    ("nexttask", "block_id", "records_block", CASCADE),
    ("nexttask", "crop_id", "records_crop", " ON DELETE SET NULL (crop_id)"),
    ("nexttask", "rule_id", "planning_taskrule", " ON DELETE SET NULL (rule_id)"),
    ("undatedtask", "block_id", "records_block", CASCADE),
    ("taskchoice", "block_id", "records_block", CASCADE),
    ("alert", "block_id", "records_block", CASCADE),
    ("alert", "task_id", "planning_nexttask", " ON DELETE SET NULL (task_id)"),
    ("alertacknowledgement", "block_id", "records_block", CASCADE),
    ("stageforecast", "block_id", "records_block", CASCADE),
    ("stageforecast", "crop_id", "records_crop", " ON DELETE SET NULL (crop_id)"),
    ("cropplan", "block_id", "records_block", ""),
    ("finding", "block_id", "records_block", CASCADE),
]
TICKED = [
    "seasonsummary",
    "taskrule",
    "schedulesetting",
    "nexttask",
    "undatedtask",
    "taskchoice",
    "alert",
    "alertacknowledgement",
    "speciesfigure",
    "flowerhours",
    "stageforecast",
    "cropplan",
    "finding",
]


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0001_initial"),
        ("records", "0002_same_farm"),
    ]

    operations = [
        parent_key("planning_taskrule"),
        parent_key("planning_nexttask"),
        *[same_farm(*link) for link in LINKS],
        *[tick_indexes(child) for child in TICKED],
    ]
