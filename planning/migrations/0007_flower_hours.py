import django.core.validators
import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import pgtrigger.migrations
import uuid_utils.compat
from django.db import migrations, models

from planning.migrations._links import tick_indexes


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('planning', '0006_species_figures'),
        ('records', '0011_file_batches'),
    ]

    operations = [
        migrations.CreateModel(
            name='FlowerHours',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('shipped_source', models.CharField(blank=True, help_text="A source's code from flower-hours/shipped.", max_length=40)),
                ('brush_from', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Own hours: flowers are brushed from this event of the sun.', max_length=10)),
                ('brush_from_minutes', models.SmallIntegerField(blank=True, help_text='Minutes after it; negative: before.', null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('brush_to', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Flowers are brushed until this event.', max_length=10)),
                ('brush_to_minutes', models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('gather_from', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Own hours: pollen is gathered from this event of the sun.', max_length=10)),
                ('gather_from_minutes', models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('gather_to', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Pollen is gathered until this event.', max_length=10)),
                ('gather_to_minutes', models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('source', models.CharField(blank=True, help_text="Where the farm's own hours come from, and notes.", max_length=600)),
                ('farm', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.species')),
            ],
            options={
                'verbose_name_plural': 'flower hours',
                'abstract': False,
                'indexes': [models.Index(fields=['farm', 'created_at', 'id'], name='flower_hours_listed')],
                'constraints': [models.UniqueConstraint(fields=('farm', 'species'), name='flower_hours_once_a_species', violation_error_message='The farm has hours for this species: change those.'), models.CheckConstraint(condition=models.Q(models.Q(models.Q(('brush_from', ''), _negated=True), models.Q(('brush_to', ''), _negated=True), ('brush_from_minutes__isnull', False), ('brush_to_minutes__isnull', False)), models.Q(('brush_from', ''), ('brush_to', ''), ('brush_from_minutes__isnull', True), ('brush_to_minutes__isnull', True)), _connector='OR'), name='flower_hours_brush_is_whole', violation_error_message='Hours have an event of the sun and minutes after it, both from and to, or nothing.'), models.CheckConstraint(condition=models.Q(('brush_from_minutes__isnull', True), models.Q(('brush_from_minutes__range', (-720, 2880)), ('brush_to_minutes__range', (-720, 2880))), _connector='OR'), name='flower_hours_brush_in_range', violation_error_message='Minutes lie between -720 and 2880.'), models.CheckConstraint(condition=models.Q(('brush_from_minutes__isnull', True), models.Q(('brush_from', models.F('brush_to')), _negated=True), ('brush_from_minutes__lt', models.F('brush_to_minutes')), _connector='OR'), name='flower_hours_brush_in_order', violation_error_message='Hours end after they begin.'), models.CheckConstraint(condition=models.Q(models.Q(models.Q(('gather_from', ''), _negated=True), models.Q(('gather_to', ''), _negated=True), ('gather_from_minutes__isnull', False), ('gather_to_minutes__isnull', False)), models.Q(('gather_from', ''), ('gather_to', ''), ('gather_from_minutes__isnull', True), ('gather_to_minutes__isnull', True)), _connector='OR'), name='flower_hours_gather_is_whole', violation_error_message='Hours have an event of the sun and minutes after it, both from and to, or nothing.'), models.CheckConstraint(condition=models.Q(('gather_from_minutes__isnull', True), models.Q(('gather_from_minutes__range', (-720, 2880)), ('gather_to_minutes__range', (-720, 2880))), _connector='OR'), name='flower_hours_gather_in_range', violation_error_message='Minutes lie between -720 and 2880.'), models.CheckConstraint(condition=models.Q(('gather_from_minutes__isnull', True), models.Q(('gather_from', models.F('gather_to')), _negated=True), ('gather_from_minutes__lt', models.F('gather_to_minutes')), _connector='OR'), name='flower_hours_gather_in_order', violation_error_message='Hours end after they begin.'), models.CheckConstraint(condition=models.Q(models.Q(models.Q(('shipped_source', ''), _negated=True), ('brush_from', ''), ('brush_to', ''), ('brush_from_minutes__isnull', True), ('brush_to_minutes__isnull', True), ('gather_from', ''), ('gather_to', ''), ('gather_from_minutes__isnull', True), ('gather_to_minutes__isnull', True)), models.Q(('shipped_source', ''), models.Q(models.Q(models.Q(('brush_from', ''), _negated=True), models.Q(('brush_to', ''), _negated=True), ('brush_from_minutes__isnull', False), ('brush_to_minutes__isnull', False)), models.Q(models.Q(('gather_from', ''), _negated=True), models.Q(('gather_to', ''), _negated=True), ('gather_from_minutes__isnull', False), ('gather_to_minutes__isnull', False)), _connector='OR')), _connector='OR'), name='flower_hours_chosen_or_own', violation_error_message='Name a source that ships, or give hours of your own, and not both.')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='21caacd4e0a6a78f0a1b54cbaa72bb8b4aa56f4f', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_55110', table='planning_flowerhours', when='BEFORE')), pgtrigger.compiler.Trigger(name='stamp', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (NEW."tick" IS NULL AND NEW."farm_id" IS NOT NULL)', constraint='CONSTRAINT', execute="orchard_stamp('farm_id', 'false')", func='RETURN NULL;', hash='cdcfe69f9c661870ff2138e3492fb24685a5d5ce', operation='INSERT OR UPDATE', pgid='pgtrigger_stamp_f4c1f', table='planning_flowerhours', timing='DEFERRABLE INITIALLY DEFERRED', when='AFTER')), pgtrigger.compiler.Trigger(name='tombstone', sql=pgtrigger.compiler.UpsertTriggerSql(func='\n            INSERT INTO records_tombstone (farm_id, kind, row_id, deleted_at)\n            SELECT "farm_id", TG_TABLE_NAME, id, now() FROM gone WHERE "farm_id" IS NOT NULL;\n            RETURN NULL;\n            ', hash='680cf278a6eff9181d47125df32ab0d7f4b7b393', level='STATEMENT', operation='DELETE', pgid='pgtrigger_tombstone_e39fb', referencing='REFERENCING OLD TABLE AS gone ', table='planning_flowerhours', when='AFTER')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_flowerhoursevent" ("brush_from", "brush_from_minutes", "brush_to", "brush_to_minutes", "farm_id", "gather_from", "gather_from_minutes", "gather_to", "gather_to_minutes", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "shipped_source", "source", "species_id", "version") SELECT new_values."brush_from", new_values."brush_from_minutes", new_values."brush_to", new_values."brush_to_minutes", new_values."farm_id", new_values."gather_from", new_values."gather_from_minutes", new_values."gather_to", new_values."gather_to_minutes", new_values."id", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."shipped_source", new_values."source", new_values."species_id", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='3b856534a6d3ee9bc831427bb10e5b67e407abf6', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_8cb45', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_flowerhours', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_flowerhoursevent" ("brush_from", "brush_from_minutes", "brush_to", "brush_to_minutes", "farm_id", "gather_from", "gather_from_minutes", "gather_to", "gather_to_minutes", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "shipped_source", "source", "species_id", "version") SELECT new_values."brush_from", new_values."brush_from_minutes", new_values."brush_to", new_values."brush_to_minutes", new_values."farm_id", new_values."gather_from", new_values."gather_from_minutes", new_values."gather_to", new_values."gather_to_minutes", new_values."id", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."shipped_source", new_values."source", new_values."species_id", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."brush_from" IS DISTINCT FROM (new_values."brush_from") OR old_values."brush_from_minutes" IS DISTINCT FROM (new_values."brush_from_minutes") OR old_values."brush_to" IS DISTINCT FROM (new_values."brush_to") OR old_values."brush_to_minutes" IS DISTINCT FROM (new_values."brush_to_minutes") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."gather_from" IS DISTINCT FROM (new_values."gather_from") OR old_values."gather_from_minutes" IS DISTINCT FROM (new_values."gather_from_minutes") OR old_values."gather_to" IS DISTINCT FROM (new_values."gather_to") OR old_values."gather_to_minutes" IS DISTINCT FROM (new_values."gather_to_minutes") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."shipped_source" IS DISTINCT FROM (new_values."shipped_source") OR old_values."source" IS DISTINCT FROM (new_values."source") OR old_values."species_id" IS DISTINCT FROM (new_values."species_id") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='8eb9ff0dff1b6e87194879a5a3820fdfcfe3158f', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_be24a', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_flowerhours', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_flowerhoursevent" ("brush_from", "brush_from_minutes", "brush_to", "brush_to_minutes", "farm_id", "gather_from", "gather_from_minutes", "gather_to", "gather_to_minutes", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "shipped_source", "source", "species_id", "version") SELECT old_values."brush_from", old_values."brush_from_minutes", old_values."brush_to", old_values."brush_to_minutes", old_values."farm_id", old_values."gather_from", old_values."gather_from_minutes", old_values."gather_to", old_values."gather_to_minutes", old_values."id", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."shipped_source", old_values."source", old_values."species_id", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='90e75ff0d2c8465a2b195206431601ff1a0f5276', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_b43c4', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_flowerhours', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='FlowerHoursEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('shipped_source', models.CharField(blank=True, help_text="A source's code from flower-hours/shipped.", max_length=40)),
                ('brush_from', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Own hours: flowers are brushed from this event of the sun.', max_length=10)),
                ('brush_from_minutes', models.SmallIntegerField(blank=True, help_text='Minutes after it; negative: before.', null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('brush_to', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Flowers are brushed until this event.', max_length=10)),
                ('brush_to_minutes', models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('gather_from', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Own hours: pollen is gathered from this event of the sun.', max_length=10)),
                ('gather_from_minutes', models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('gather_to', models.CharField(blank=True, choices=[('sunrise', 'sunrise'), ('solar-noon', 'solar noon'), ('sunset', 'sunset')], help_text='Pollen is gathered until this event.', max_length=10)),
                ('gather_to_minutes', models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-720), django.core.validators.MaxValueValidator(2880)])),
                ('source', models.CharField(blank=True, help_text="Where the farm's own hours come from, and notes.", max_length=600)),
                ('farm', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='planning.flowerhours')),
                ('species', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.species')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', '-pgh_created_at', '-pgh_id'], name='flowerhoursevent_farm')],
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='bf9f31d8a383746990d7f3e3da1a5f32a92492aa', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_25541', table='planning_flowerhoursevent', when='BEFORE'))],
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
            name='works_from',
            field=models.TimeField(blank=True, help_text="When work starts, by the farm's clock. Empty: daylight.", null=True),
        ),
        migrations.AddField(
            model_name='schedulesetting',
            name='works_until',
            field=models.TimeField(blank=True, help_text='When work ends on that day.', null=True),
        ),
        migrations.AddField(
            model_name='schedulesettingevent',
            name='works_from',
            field=models.TimeField(blank=True, help_text="When work starts, by the farm's clock. Empty: daylight.", null=True),
        ),
        migrations.AddField(
            model_name='schedulesettingevent',
            name='works_until',
            field=models.TimeField(blank=True, help_text='When work ends on that day.', null=True),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='schedulesetting',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_schedulesettingevent" ("climate", "days_ahead", "farm_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "version", "works_from", "works_until") SELECT new_values."climate", new_values."days_ahead", new_values."farm_id", new_values."id", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."version", new_values."works_from", new_values."works_until" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='693de041a8a89f8a63120a7a828c5e86f7bcd139', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_ef78f', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_schedulesetting', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='schedulesetting',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_schedulesettingevent" ("climate", "days_ahead", "farm_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "version", "works_from", "works_until") SELECT new_values."climate", new_values."days_ahead", new_values."farm_id", new_values."id", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."version", new_values."works_from", new_values."works_until" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."climate" IS DISTINCT FROM (new_values."climate") OR old_values."days_ahead" IS DISTINCT FROM (new_values."days_ahead") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."version" IS DISTINCT FROM (new_values."version") OR old_values."works_from" IS DISTINCT FROM (new_values."works_from") OR old_values."works_until" IS DISTINCT FROM (new_values."works_until")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='83bd6adce477030362ac7fc482a7a88f58ab3b06', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_95e12', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_schedulesetting', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='schedulesetting',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_schedulesettingevent" ("climate", "days_ahead", "farm_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "version", "works_from", "works_until") SELECT old_values."climate", old_values."days_ahead", old_values."farm_id", old_values."id", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."version", old_values."works_from", old_values."works_until" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='8716ba817a228650c9dd25ddae38489ce146121f', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_ed7ff', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_schedulesetting', when='AFTER')),
        ),
        migrations.AddConstraint(
            model_name='schedulesetting',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('works_from__isnull', True), ('works_until__isnull', True)), models.Q(('works_from__isnull', False), ('works_until__isnull', False)), _connector='OR'), name='schedule_setting_has_both_hours', violation_error_message='Give both when work starts and when it ends, or neither.'),
        ),
        migrations.AddConstraint(
            model_name='schedulesetting',
            constraint=models.CheckConstraint(condition=models.Q(('works_from__lt', models.F('works_until'))), name='schedule_setting_hours_in_order', violation_error_message='Work ends after it starts, on the same day.'),
        ),
        tick_indexes("flowerhours"),
    ]
