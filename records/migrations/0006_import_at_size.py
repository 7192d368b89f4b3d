"""Imports at the size of a large co-op: files in parts, of many farms, landing in steps."""

import django.db.models.deletion
from django.db import migrations, models


# A file in the old column is cut into parts of a megabyte.
CUT = """
UPDATE records_importfile SET size_bytes = octet_length(content);
INSERT INTO records_importfilepart (file_id, number, content)
SELECT f.harvest_import_id, n, substring(f.content FROM n * 1048576 + 1 FOR 1048576)
FROM records_importfile f
CROSS JOIN LATERAL generate_series(0, greatest(octet_length(f.content) - 1, 0) / 1048576) n;
SET CONSTRAINTS ALL IMMEDIATE
"""

JOIN = """
UPDATE records_importfile f SET content = coalesce((
    SELECT string_agg(p.content, '' ORDER BY p.number) FROM records_importfilepart p
    WHERE p.file_id = f.harvest_import_id), '')
"""

# Each staged row is of a farm of its own, and gets the id of the weighing that it may become.
STAGED = """
TRUNCATE records_stagedweighing;
DROP INDEX staged_weighing_matched;
ALTER TABLE records_stagedweighing DROP before,
    ADD farm_id uuid, ADD new_id uuid NOT NULL, ADD known_version integer, DROP cultivar_id;
-- What is found out of a row is written beside it on its page, and its key stays where it is.
ALTER TABLE records_stagedweighing SET (fillfactor = 30)
"""

UNSTAGED = """
TRUNCATE records_stagedweighing;
ALTER TABLE records_stagedweighing DROP farm_id, DROP new_id, DROP known_version,
    ADD before jsonb, ADD cultivar_id uuid, RESET (fillfactor);
CREATE INDEX staged_weighing_matched ON records_stagedweighing (import_id, weight_id)
    WHERE weight_id IS NOT NULL
"""

# A weighing of a farm may have come in a file of its co-op, so that the file has no one farm.
ANY_IMPORT = """
ALTER TABLE records_harvestweight DROP CONSTRAINT harvestweight_harvest_import_id_same_farm,
    ADD CONSTRAINT harvestweight_harvest_import_exists
    FOREIGN KEY (harvest_import_id) REFERENCES records_harvestimport (id)
"""

SAME_FARM = """
ALTER TABLE records_harvestweight DROP CONSTRAINT harvestweight_harvest_import_exists,
    ADD CONSTRAINT harvestweight_harvest_import_id_same_farm
    FOREIGN KEY (farm_id, harvest_import_id) REFERENCES records_harvestimport (farm_id, id)
"""


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0005_trace_facts'),
    ]

    operations = [
        migrations.CreateModel(
            name='ImportFilePart',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(help_text='Counted from 0.')),
                ('content', models.BinaryField()),
                ('file', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='parts', to='records.importfile')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('file', 'number'), name='import_file_part_once')],
            },
        ),
        migrations.AddField(
            model_name='importfile',
            name='size_bytes',
            field=models.PositiveBigIntegerField(db_default=0, default=0),
        ),
        migrations.RunSQL(CUT, JOIN),
        migrations.RemoveField(
            model_name='importfile',
            name='content',
        ),
        migrations.AddField(
            model_name='importfile',
            name='landed_added',
            field=models.PositiveIntegerField(db_default=0, default=0),
        ),
        migrations.AddField(
            model_name='importfile',
            name='landed_changed',
            field=models.PositiveIntegerField(db_default=0, default=0),
        ),
        migrations.AddField(
            model_name='importfile',
            name='landed_through',
            field=models.PositiveIntegerField(db_default=0, default=0),
        ),
        migrations.AlterField(
            model_name='harvestimport',
            name='co_op',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.coop'),
        ),
        migrations.AlterField(
            model_name='harvestimport',
            name='farm',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm'),
        ),
        migrations.AlterField(
            model_name='harvestimport',
            name='state',
            field=models.CharField(choices=[('received', 'Received'), ('reading', 'Reading'), ('question', 'Question'), ('checked', 'Checked'), ('refused', 'Refused'), ('landing', 'Landing'), ('stopped', 'landed in part'), ('landed', 'Landed'), ('failed', 'Failed'), ('undone', 'Undone')], default='received', editable=False, max_length=10),
        ),
        migrations.AlterField(
            model_name='harvestimportevent',
            name='co_op',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.coop'),
        ),
        migrations.AlterField(
            model_name='harvestimportevent',
            name='farm',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm'),
        ),
        migrations.AlterField(
            model_name='harvestimportevent',
            name='state',
            field=models.CharField(choices=[('received', 'Received'), ('reading', 'Reading'), ('question', 'Question'), ('checked', 'Checked'), ('refused', 'Refused'), ('landing', 'Landing'), ('stopped', 'landed in part'), ('landed', 'Landed'), ('failed', 'Failed'), ('undone', 'Undone')], default='received', editable=False, max_length=10),
        ),
        migrations.AlterField(
            model_name='importproblem',
            name='farm',
            field=models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm'),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('farm__isnull', False), ('co_op__isnull', False), _connector='OR'), name='harvest_import_of_farm_or_co_op', violation_error_message="Say whose file it is: a farm's or a co-op's."),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('farm__isnull', False), ('kind', 'harvest-weights'), _connector='OR'), name='file_of_many_farms_is_of_weighings', violation_error_message='Only a file of weighings may hold several farms.'),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('farm__isnull', False), ('replaces', False), _connector='OR'), name='replacement_is_of_one_farm', violation_error_message="A replacement is of one farm: send each farm's its own."),
        ),
        migrations.RunSQL(STAGED, UNSTAGED),
        migrations.RunSQL(ANY_IMPORT, SAME_FARM),
    ]
