import django.core.validators
import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import pgtrigger.migrations
import uuid_utils.compat
from django.db import migrations, models

from planning.migrations._links import same_farm, tick_indexes


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('planning', '0008_stage_forecasts'),
        ('records', '0011_file_batches'),
    ]

    operations = [
        migrations.CreateModel(
            name='CropPlan',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('name', models.CharField(default='second', help_text='What the crop is to be called.', max_length=40)),
                ('work', models.CharField(choices=[('strip-and-prune', 'leaf stripping and pruning'), ('pruning', 'pruning'), ('leaf-stripping', 'leaf stripping')], default='strip-and-prune', help_text='What opens it.', max_length=16)),
                ('planned_on', models.DateField()),
                ('note', models.CharField(blank=True, max_length=500)),
                ('block', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.block')),
                ('farm', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', 'created_at', 'id'], name='crop_plan_listed')],
                'constraints': [models.UniqueConstraint(fields=('block', 'planned_on'), name='crop_plan_once_a_day', violation_error_message='The block has a plan for this day: change that one.'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='crop_plan_is_named', violation_error_message='Say what the crop is to be called.'), models.CheckConstraint(condition=models.Q(('name__iexact', 'main'), _negated=True), name='crop_plan_is_of_a_further_crop', violation_error_message="The main crop is opened by the year's own pruning: name a further one.")],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='1917d8fe13deb97f31093e7fd5173c1872a5a7fa', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_7239b', table='planning_cropplan', when='BEFORE')), pgtrigger.compiler.Trigger(name='stamp', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (NEW."tick" IS NULL AND NEW."farm_id" IS NOT NULL)', constraint='CONSTRAINT', execute="orchard_stamp('farm_id', 'false')", func='RETURN NULL;', hash='e454ccb673f4e6bf24ac169e9549a1453d8bbcfd', operation='INSERT OR UPDATE', pgid='pgtrigger_stamp_04917', table='planning_cropplan', timing='DEFERRABLE INITIALLY DEFERRED', when='AFTER')), pgtrigger.compiler.Trigger(name='tombstone', sql=pgtrigger.compiler.UpsertTriggerSql(func='\n            INSERT INTO records_tombstone (farm_id, kind, row_id, deleted_at)\n            SELECT "farm_id", TG_TABLE_NAME, id, now() FROM gone WHERE "farm_id" IS NOT NULL;\n            RETURN NULL;\n            ', hash='9d679dd173d9cb7e69167f0e2adb2200aec16c71', level='STATEMENT', operation='DELETE', pgid='pgtrigger_tombstone_3984c', referencing='REFERENCING OLD TABLE AS gone ', table='planning_cropplan', when='AFTER')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_cropplanevent" ("block_id", "farm_id", "id", "name", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "planned_on", "version", "work") SELECT new_values."block_id", new_values."farm_id", new_values."id", new_values."name", new_values."note", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."planned_on", new_values."version", new_values."work" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='5fb619337078616f4409bb7615181253432433ae', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_5f5ed', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_cropplan', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_cropplanevent" ("block_id", "farm_id", "id", "name", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "planned_on", "version", "work") SELECT new_values."block_id", new_values."farm_id", new_values."id", new_values."name", new_values."note", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."planned_on", new_values."version", new_values."work" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."block_id" IS DISTINCT FROM (new_values."block_id") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."name" IS DISTINCT FROM (new_values."name") OR old_values."note" IS DISTINCT FROM (new_values."note") OR old_values."planned_on" IS DISTINCT FROM (new_values."planned_on") OR old_values."version" IS DISTINCT FROM (new_values."version") OR old_values."work" IS DISTINCT FROM (new_values."work")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='ed4308c50a2f7b862f1d7756bf1d329c670b6a6c', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_f16c1', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_cropplan', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_cropplanevent" ("block_id", "farm_id", "id", "name", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "planned_on", "version", "work") SELECT old_values."block_id", old_values."farm_id", old_values."id", old_values."name", old_values."note", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."planned_on", old_values."version", old_values."work" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='01f33c4f7b533a97d39b579e6d6f44148e7c3398', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_4ac2f', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_cropplan', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='CropPlanEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('name', models.CharField(default='second', help_text='What the crop is to be called.', max_length=40)),
                ('work', models.CharField(choices=[('strip-and-prune', 'leaf stripping and pruning'), ('pruning', 'pruning'), ('leaf-stripping', 'leaf stripping')], default='strip-and-prune', help_text='What opens it.', max_length=16)),
                ('planned_on', models.DateField()),
                ('note', models.CharField(blank=True, max_length=500)),
                ('block', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.block')),
                ('farm', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='planning.cropplan')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', '-pgh_created_at', '-pgh_id'], name='cropplanevent_farm')],
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='5250ef0ba58e73fda860638c55b0fb3728d29e82', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_b87f5', table='planning_cropplanevent', when='BEFORE'))],
            },
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='schedulesetting',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='schedulesetting',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='schedulesetting',
            name='delete_delete',
        ),
        migrations.AddField(
            model_name='schedulesetting',
            name='crew_size',
            field=models.PositiveSmallIntegerField(blank=True, help_text='People on hand for pollinating; empty: not known.', null=True, validators=[django.core.validators.MaxValueValidator(1000)]),
        ),
        migrations.AddField(
            model_name='schedulesettingevent',
            name='crew_size',
            field=models.PositiveSmallIntegerField(blank=True, help_text='People on hand for pollinating; empty: not known.', null=True, validators=[django.core.validators.MaxValueValidator(1000)]),
        ),
        migrations.AddField(
            model_name='seasonsummary',
            name='against_main',
            field=models.JSONField(help_text="Of a further crop: held against the block's main crop.", null=True),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='schedulesetting',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_schedulesettingevent" ("climate", "crew_size", "days_ahead", "farm_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "version", "works_from", "works_until") SELECT new_values."climate", new_values."crew_size", new_values."days_ahead", new_values."farm_id", new_values."id", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."version", new_values."works_from", new_values."works_until" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='6a7b45a9666c269d7ced525b231e4e4545f6e5af', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_ef78f', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_schedulesetting', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='schedulesetting',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_schedulesettingevent" ("climate", "crew_size", "days_ahead", "farm_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "version", "works_from", "works_until") SELECT new_values."climate", new_values."crew_size", new_values."days_ahead", new_values."farm_id", new_values."id", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."version", new_values."works_from", new_values."works_until" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."climate" IS DISTINCT FROM (new_values."climate") OR old_values."crew_size" IS DISTINCT FROM (new_values."crew_size") OR old_values."days_ahead" IS DISTINCT FROM (new_values."days_ahead") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."version" IS DISTINCT FROM (new_values."version") OR old_values."works_from" IS DISTINCT FROM (new_values."works_from") OR old_values."works_until" IS DISTINCT FROM (new_values."works_until")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='d0031ea47bfa214a89ec3f46ceb1fd5644c6d092', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_95e12', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_schedulesetting', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='schedulesetting',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_schedulesettingevent" ("climate", "crew_size", "days_ahead", "farm_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "version", "works_from", "works_until") SELECT old_values."climate", old_values."crew_size", old_values."days_ahead", old_values."farm_id", old_values."id", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."version", old_values."works_from", old_values."works_until" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='42744a7c80e96dce2622c9fc52dbeca6e9e11056', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_ed7ff', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_schedulesetting', when='AFTER')),
        ),
        same_farm("cropplan", "block_id", "records_block", ""),
        tick_indexes("cropplan"),
    ]
