import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import uuid_utils.compat
from django.db import migrations, models

from planning.migrations._links import same_farm, tick_indexes


class Migration(migrations.Migration):

    dependencies = [
        ('planning', '0007_flower_hours'),
        ('records', '0011_file_batches'),
    ]

    operations = [
        migrations.CreateModel(
            name='StageForecast',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('season_year', models.SmallIntegerField(help_text='The year the season starts in.')),
                ('season_label', models.CharField(max_length=7)),
                ('crop_name', models.CharField(max_length=60)),
                ('stage', models.CharField(choices=[('leaf-out', 'leaf-out'), ('first-bloom', 'first bloom'), ('half-bloom', 'half bloom'), ('end-of-bloom', 'end of bloom'), ('skin-change', 'skin change'), ('first-picking', 'first picking'), ('last-picking', 'last picking')], max_length=14)),
                ('bbch', models.PositiveSmallIntegerField()),
                ('on_date', models.DateField(null=True)),
                ('low_on', models.DateField(help_text='The 80 % interval starts here.', null=True)),
                ('high_on', models.DateField(help_text='And ends here.', null=True)),
                ('observed_on', models.DateField(null=True)),
                ('expected_on', models.DateField(help_text='As it stood the day before it was seen.', null=True)),
                ('expected_low_on', models.DateField(null=True)),
                ('expected_high_on', models.DateField(null=True)),
                ('method', models.CharField(choices=[('observed', 'it was seen'), ('passed', 'it went by unseen'), ('days', "days from an anchor, as in the block's earlier seasons"), ('degree-days', 'degree days from an anchor'), ('history', "the mean day of the block's earlier seasons"), ('shrunk', "the block's few seasons, drawn towards the species' figure"), ('species', "the species' figure alone"), ('not-known', 'something is missing'), ('does-not-apply', 'it does not apply to the species')], max_length=14)),
                ('anchor', models.CharField(blank=True, help_text='What its days are from.', max_length=16)),
                ('anchor_on', models.DateField(null=True)),
                ('inputs', models.JSONField(default=dict)),
                ('reason', models.CharField(max_length=1000)),
                ('block', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.block')),
                ('crop', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='records.crop')),
                ('cultivar', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.cultivar')),
                ('farm', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.farm')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', 'on_date', 'id'], name='stage_forecast_of_a_farm'), models.Index(fields=['created_at', 'id'], name='stage_forecast_listed')],
                'constraints': [models.UniqueConstraint(fields=('farm', 'block', 'cultivar', 'season_year', 'crop_name', 'stage'), name='stage_forecast_once', nulls_distinct=False)],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='32528d4ad3e6fa35e8b76c9f91b6318b2d03685d', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_c90da', table='planning_stageforecast', when='BEFORE')), pgtrigger.compiler.Trigger(name='stamp', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (NEW."tick" IS NULL AND NEW."farm_id" IS NOT NULL)', constraint='CONSTRAINT', execute="orchard_stamp('farm_id', 'true')", func='RETURN NULL;', hash='8ed98ef9dcf963d499f10a5be85ea7080cacf4ef', operation='INSERT OR UPDATE', pgid='pgtrigger_stamp_e4e56', table='planning_stageforecast', timing='DEFERRABLE INITIALLY DEFERRED', when='AFTER')), pgtrigger.compiler.Trigger(name='tombstone', sql=pgtrigger.compiler.UpsertTriggerSql(func='\n            INSERT INTO records_tombstone (farm_id, kind, row_id, deleted_at)\n            SELECT "farm_id", TG_TABLE_NAME, id, now() FROM gone WHERE "farm_id" IS NOT NULL;\n            RETURN NULL;\n            ', hash='96f7de795e403dcbaab992f339d21ca8982634b3', level='STATEMENT', operation='DELETE', pgid='pgtrigger_tombstone_effe3', referencing='REFERENCING OLD TABLE AS gone ', table='planning_stageforecast', when='AFTER'))],
            },
        ),
        same_farm("stageforecast", "block_id", "records_block", " ON DELETE CASCADE"),
        same_farm("stageforecast", "crop_id", "records_crop", " ON DELETE SET NULL (crop_id)"),
        tick_indexes("stageforecast"),
    ]
