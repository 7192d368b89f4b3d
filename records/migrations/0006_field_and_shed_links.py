"""Links of the field's and the shed's records stay within the farm, as in 0002."""

from importlib import import_module

from django.db import migrations

foundation = import_module("records.migrations.0002_same_farm")

# child table, column, parent table
LINKS = [
    ("trunkgirth", "tree_id", "tree"),
    ("tasklog", "block_id", "block"),
    ("growthstage", "block_id", "block"),
    ("growthstage", "tree_id", "tree"),
    ("pollinationround", "block_id", "block"),
    ("pollinationround", "pollen_batch_id", "pollenbatch"),
    ("fruitcount", "block_id", "block"),
    ("fruitsample", "block_id", "block"),
    ("fruitsample", "tree_id", "tree"),
    ("fruitsample", "round_id", "pollinationround"),
    ("intake", "delivery_id", "delivery"),
    ("intake", "block_id", "block"),
    ("intake", "container_id", "container"),
    ("tasklogtree", "task_log_id", "tasklog"),
    ("tasklogtree", "tree_id", "tree"),
    ("pollendonortree", "pollen_batch_id", "pollenbatch"),
    ("pollendonortree", "tree_id", "tree"),
    ("pollendonorcultivar", "pollen_batch_id", "pollenbatch"),
    ("pollinationroundtree", "round_id", "pollinationround"),
    ("pollinationroundtree", "tree_id", "tree"),
    ("fruitcountround", "fruit_count_id", "fruitcount"),
    ("fruitcountround", "round_id", "pollinationround"),
    ("fruitcounttree", "fruit_count_id", "fruitcount"),
    ("fruitcounttree", "tree_id", "tree"),
    ("deliveryweight", "delivery_id", "delivery"),
    ("deliveryweight", "weight_id", "harvestweight"),
    ("sortedweight", "intake_id", "intake"),
    ("sortedweight", "grade_id", "grade"),
    ("lotline", "intake_id", "intake"),
]
IMPORTED = [
    "trunkgirth",
    "tasklog",
    "growthstage",
    "pollenbatch",
    "pollinationround",
    "fruitcount",
    "fruitsample",
    "delivery",
    "intake",
    "lot",
    "weatherday",
]
LINKS += [(table, "harvest_import_id", "harvestimport") for table in IMPORTED]
TICKED = [*IMPORTED, "weatherstation"]
NEW_PARENTS = ["delivery", "fruitcount", "intake", "pollenbatch", "pollinationround", "tasklog"]

# A station or a lot belongs to a farm or to a co-op: its rows need no farm to be found by.
STATION_USES = migrations.RunSQL(
    "ALTER TABLE records_stationuse ADD CONSTRAINT stationuse_station_exists"
    " FOREIGN KEY (station_id) REFERENCES records_weatherstation (id)",
    "ALTER TABLE records_stationuse DROP CONSTRAINT stationuse_station_exists",
)


class Migration(migrations.Migration):
    dependencies = [("records", "0005_field_and_shed")]

    operations = [
        *[foundation.parent_key(parent) for parent in NEW_PARENTS],
        *[foundation.same_farm(*link) for link in LINKS],
        *[foundation.tick_indexes(table, "farm_id") for table in TICKED],
        STATION_USES,
    ]
