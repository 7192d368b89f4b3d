"""What the models cannot say: links stay within a farm, and the change feed's indexes.

A link is checked together with its farm, so that no row can point into another farm. These
checks are immediate: deferred ones would be queued a second time when the tick is stamped.
"""

from django.db import migrations

# child table, column, parent table
LINKS = [
    ("seasonstart", "block_id", "block"),
    ("plantingline", "block_id", "block"),
    ("tree", "block_id", "block"),
    ("tree", "moved_from_id", "tree"),
    ("tree", "mother_id", "tree"),
    ("graft", "tree_id", "tree"),
    ("grademapping", "grade_id", "grade"),
    ("crop", "block_id", "block"),
    ("harvestweight", "block_id", "block"),
    ("harvestweight", "container_id", "container"),
    ("harvestweight", "grade_id", "grade"),
    ("harvestweight", "crop_id", "crop"),
    ("harvestweighttree", "weight_id", "harvestweight"),
    ("harvestweighttree", "tree_id", "tree"),
    ("importedchange", "weight_id", "harvestweight"),
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
    ("batchfile", "harvest_import_id", "harvestimport"),
]
# Records that come by files of other kinds.
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
PARENTS = sorted({parent for _, _, parent in LINKS})
# Rows of these tables carry a tick; the column that names their farm.
TICKED = {
    "farm": "id",
    **dict.fromkeys(
        [
            "farmrole",
            "membership",
            "seasonstart",
            "cultivar",
            "block",
            "plantingline",
            "tree",
            "graft",
            "container",
            "grade",
            "grademapping",
            "crop",
            "harvestweight",
            "filelayout",
            "harvestimport",
            *IMPORTED,
            "weatherstation",
            "tracecoverage",
        ],
        "farm_id",
    ),
}


def parent_key(parent):
    name = f"records_{parent}"
    return migrations.RunSQL(
        f"ALTER TABLE {name} ADD CONSTRAINT {name}_in_farm UNIQUE (farm_id, id)",
        f"ALTER TABLE {name} DROP CONSTRAINT {name}_in_farm",
    )


def same_farm(child, column, parent):
    name = f"{child}_{column}_same_farm"
    cascade = " ON DELETE CASCADE" if child == "importedchange" else ""
    return migrations.RunSQL(
        f"ALTER TABLE records_{child} ADD CONSTRAINT {name} FOREIGN KEY (farm_id, {column})"
        f" REFERENCES records_{parent} (farm_id, id){cascade}",
        f"ALTER TABLE records_{child} DROP CONSTRAINT {name}",
    )


def tick_indexes(table, farm):
    name = f"records_{table}"
    feed = f"({farm}, tick, id)" if farm != "id" else "(id, tick)"
    return migrations.RunSQL(
        [
            f"CREATE INDEX {name}_unstamped ON {name} ({farm}) WHERE tick IS NULL AND {farm} IS NOT NULL",
            f"CREATE INDEX {name}_feed ON {name} {feed}",
        ],
        [f"DROP INDEX {name}_feed", f"DROP INDEX {name}_unstamped"],
    )


UNSTAMPED_TOMBSTONES = migrations.RunSQL(
    "CREATE INDEX records_tombstone_unstamped ON records_tombstone (farm_id) WHERE tick IS NULL",
    "DROP INDEX records_tombstone_unstamped",
)

# A station or a lot belongs to a farm or to a co-op: its rows need no farm to be found by.
STATION_USES = migrations.RunSQL(
    "ALTER TABLE records_stationuse ADD CONSTRAINT stationuse_station_exists"
    " FOREIGN KEY (station_id) REFERENCES records_weatherstation (id)",
    "ALTER TABLE records_stationuse DROP CONSTRAINT stationuse_station_exists",
)

# A weighing of a farm may have come in a file of its co-op, so that the file has no one farm.
ANY_IMPORT = migrations.RunSQL(
    "ALTER TABLE records_harvestweight ADD CONSTRAINT harvestweight_harvest_import_exists"
    " FOREIGN KEY (harvest_import_id) REFERENCES records_harvestimport (id)",
    "ALTER TABLE records_harvestweight DROP CONSTRAINT harvestweight_harvest_import_exists",
)


class Migration(migrations.Migration):
    dependencies = [("records", "0001_initial")]

    operations = [
        *[parent_key(parent) for parent in PARENTS],
        *[same_farm(*link) for link in LINKS],
        *[tick_indexes(table, farm) for table, farm in TICKED.items()],
        UNSTAMPED_TOMBSTONES,
        STATION_USES,
        ANY_IMPORT,
    ]
