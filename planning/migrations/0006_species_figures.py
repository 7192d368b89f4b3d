import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import uuid_utils.compat
from django.db import migrations, models

from planning.migrations._links import tick_indexes


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('planning', '0005_minutes'),
        ('records', '0011_file_batches'),
    ]

    operations = [
        migrations.CreateModel(
            name='SpeciesFigure',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('name', models.SlugField(help_text='Such as base-temperature.', max_length=40)),
                ('value', models.FloatField(help_text="In the figure's own unit; a share is 0 to 1.")),
                ('source', models.CharField(help_text='Where it is from: a book, or own counts.', max_length=300)),
                ('cultivar', models.ForeignKey(blank=True, help_text='Where the figure holds for one cultivar only.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.cultivar')),
                ('farm', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.species')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', 'created_at', 'id'], name='species_figure_listed')],
                'constraints': [models.UniqueConstraint(fields=('farm', 'species', 'cultivar', 'name'), name='species_figure_once', nulls_distinct=False, violation_error_code='already-taken', violation_error_message='The farm has its own value of this figure: change that.'), models.CheckConstraint(condition=models.Q(('source', ''), _negated=True), name='species_figure_has_a_source', violation_error_message='Say where the figure is from.')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='00f197320fa22200be2896453f8482f44e70f967', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_d5610', table='planning_speciesfigure', when='BEFORE')), pgtrigger.compiler.Trigger(name='stamp', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (NEW."tick" IS NULL AND NEW."farm_id" IS NOT NULL)', constraint='CONSTRAINT', execute="orchard_stamp('farm_id', 'false')", func='RETURN NULL;', hash='8036333f04dcf9e48851708e315384449f01282a', operation='INSERT OR UPDATE', pgid='pgtrigger_stamp_99c7a', table='planning_speciesfigure', timing='DEFERRABLE INITIALLY DEFERRED', when='AFTER')), pgtrigger.compiler.Trigger(name='tombstone', sql=pgtrigger.compiler.UpsertTriggerSql(func='\n            INSERT INTO records_tombstone (farm_id, kind, row_id, deleted_at)\n            SELECT "farm_id", TG_TABLE_NAME, id, now() FROM gone WHERE "farm_id" IS NOT NULL;\n            RETURN NULL;\n            ', hash='2427e5966d0d23a545fe626df2f23896e1a12f63', level='STATEMENT', operation='DELETE', pgid='pgtrigger_tombstone_0253a', referencing='REFERENCING OLD TABLE AS gone ', table='planning_speciesfigure', when='AFTER')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_speciesfigureevent" ("cultivar_id", "farm_id", "id", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "source", "species_id", "value", "version") SELECT new_values."cultivar_id", new_values."farm_id", new_values."id", new_values."name", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."source", new_values."species_id", new_values."value", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='62d72a94cbc500380cb97cccc09cf9cef704753a', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_02112', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_speciesfigure', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_speciesfigureevent" ("cultivar_id", "farm_id", "id", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "source", "species_id", "value", "version") SELECT new_values."cultivar_id", new_values."farm_id", new_values."id", new_values."name", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."source", new_values."species_id", new_values."value", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."cultivar_id" IS DISTINCT FROM (new_values."cultivar_id") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."name" IS DISTINCT FROM (new_values."name") OR old_values."source" IS DISTINCT FROM (new_values."source") OR old_values."species_id" IS DISTINCT FROM (new_values."species_id") OR old_values."value" IS DISTINCT FROM (new_values."value") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='c790ac2316defa2f9efecaf056a1eebcb18fbab9', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_a5d04', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_speciesfigure', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_speciesfigureevent" ("cultivar_id", "farm_id", "id", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "source", "species_id", "value", "version") SELECT old_values."cultivar_id", old_values."farm_id", old_values."id", old_values."name", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."source", old_values."species_id", old_values."value", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='4b96a85cc95bbd753ad584c79cb5eeaa6dfa517d', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_8794c', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_speciesfigure', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='SpeciesFigureEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('name', models.SlugField(db_index=False, help_text='Such as base-temperature.', max_length=40)),
                ('value', models.FloatField(help_text="In the figure's own unit; a share is 0 to 1.")),
                ('source', models.CharField(help_text='Where it is from: a book, or own counts.', max_length=300)),
                ('cultivar', models.ForeignKey(blank=True, db_constraint=False, help_text='Where the figure holds for one cultivar only.', null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.cultivar')),
                ('farm', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='planning.speciesfigure')),
                ('species', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.species')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', '-pgh_created_at', '-pgh_id'], name='speciesfigureevent_farm')],
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='b624b22fb31ba05b986dfd6e7b0a092328d483da', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_047d3', table='planning_speciesfigureevent', when='BEFORE'))],
            },
        ),
        tick_indexes("speciesfigure"),
    ]
