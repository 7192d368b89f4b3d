"""Links stay within a farm and go with what they point at; the change feed's indexes."""

from django.db import migrations

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


def parent_key(table):
    return migrations.RunSQL(
        f"ALTER TABLE {table} ADD CONSTRAINT {table}_in_farm UNIQUE (farm_id, id)",
        f"ALTER TABLE {table} DROP CONSTRAINT {table}_in_farm",
    )


def same_farm(child, column, parent, when_gone):
    name = f"{child}_{column}_same_farm"
    return migrations.RunSQL(
        f"ALTER TABLE planning_{child} ADD CONSTRAINT {name} FOREIGN KEY (farm_id, {column})"
        f" REFERENCES {parent} (farm_id, id){when_gone}",
        f"ALTER TABLE planning_{child} DROP CONSTRAINT {name}",
    )


def tick_indexes(child):
    table = f"planning_{child}"
    return migrations.RunSQL(
        [
            f"CREATE INDEX {table}_unstamped ON {table} (farm_id) WHERE tick IS NULL",
            f"CREATE INDEX {table}_feed ON {table} (farm_id, tick, id)",
        ],
        [f"DROP INDEX {table}_feed", f"DROP INDEX {table}_unstamped"],
    )


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
