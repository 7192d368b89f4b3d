"""Links stay within a farm and go with what they point at; the change feed's indexes."""

from django.db import migrations

from planning.migrations._links import parent_key, same_farm, tick_indexes

# child table, column, parent table, what becomes of the row when the parent goes
LINKS = [
    ("taskrule", "block_id", "records_block", ""),
    ("nexttask", "block_id", "records_block", " ON DELETE CASCADE"),
    ("nexttask", "crop_id", "records_crop", " ON DELETE SET NULL (crop_id)"),
    ("nexttask", "rule_id", "planning_taskrule", " ON DELETE SET NULL (rule_id)"),
    ("undatedtask", "block_id", "records_block", " ON DELETE CASCADE"),
    ("taskchoice", "block_id", "records_block", " ON DELETE CASCADE"),
    ("alert", "block_id", "records_block", " ON DELETE CASCADE"),
    ("alert", "task_id", "planning_nexttask", " ON DELETE SET NULL (task_id)"),
    ("alertacknowledgement", "block_id", "records_block", " ON DELETE CASCADE"),
]
TICKED = [
    "taskrule",
    "schedulesetting",
    "nexttask",
    "undatedtask",
    "taskchoice",
    "alert",
    "alertacknowledgement",
]


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0003_next_tasks"),
        ("records", "0006_field_and_shed_links"),
    ]

    operations = [
        parent_key("planning_taskrule"),
        parent_key("planning_nexttask"),
        *[same_farm(*link) for link in LINKS],
        *[tick_indexes(child) for child in TICKED],
    ]
