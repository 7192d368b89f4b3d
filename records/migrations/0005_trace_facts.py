"""What trace records need: locations, cooling, lots in full, and which species are covered."""

import django.contrib.postgres.constraints
import django.core.validators
import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import pgtrigger.migrations
import records.models.base
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


TICK_INDEXES = migrations.RunSQL(
    [
        "CREATE INDEX records_tracecoverage_unstamped ON records_tracecoverage (farm_id)"
        " WHERE tick IS NULL AND farm_id IS NOT NULL",
        "CREATE INDEX records_tracecoverage_feed ON records_tracecoverage (farm_id, tick, id)",
    ],
    ["DROP INDEX records_tracecoverage_feed", "DROP INDEX records_tracecoverage_unstamped"],
)


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('records', '0004_staged_weighings'),
    ]

    operations = [
        migrations.CreateModel(
            name='TraceCoverage',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('is_covered', models.BooleanField()),
                ('starts_on', models.DateField()),
                ('ends_on', models.DateField(blank=True, help_text='The last day, if there is one.', null=True)),
                ('source', models.CharField(help_text='Where it is from: the list and its date, or who was asked.', max_length=300)),
                ('co_op', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.coop')),
                ('created_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('farm', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.species')),
            ],
            options={
                'verbose_name_plural': 'trace coverages',
                'abstract': False,
                'indexes': [models.Index(fields=['created_at', 'id'], name='trace_coverage_listed')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('co_op__isnull', False), ('farm__isnull', True)), models.Q(('co_op__isnull', True), ('farm__isnull', False)), _connector='OR'), name='trace_coverage_of_one_farm_or_one_co_op', violation_error_message="An entry is a farm's or a co-op's."), models.CheckConstraint(condition=models.Q(('ends_on__isnull', True), ('ends_on__gte', models.F('starts_on')), _connector='OR'), name='trace_coverage_ends_after_it_starts', violation_error_message='The last day is before the first.'), models.CheckConstraint(condition=models.Q(('source', ''), _negated=True), name='trace_coverage_has_a_source', violation_error_message='Say where this is from.'), django.contrib.postgres.constraints.ExclusionConstraint(expressions=[('farm', '='), ('species', '='), (records.models.base.DateRange('starts_on', 'ends_on', models.Value('[]')), '&&')], name='trace_coverage_once_at_a_time_of_farm', violation_error_code='coverage-overlaps', violation_error_message='There is an entry of this species for some of these days.'), django.contrib.postgres.constraints.ExclusionConstraint(expressions=[('co_op', '='), ('species', '='), (records.models.base.DateRange('starts_on', 'ends_on', models.Value('[]')), '&&')], name='trace_coverage_once_at_a_time_of_co_op', violation_error_code='coverage-overlaps', violation_error_message='There is an entry of this species for some of these days.')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='19ca7dafbd5df69c01d2b38a874871b8c811371f', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_32996', table='records_tracecoverage', when='BEFORE')), pgtrigger.compiler.Trigger(name='stamp', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (NEW."tick" IS NULL AND NEW."farm_id" IS NOT NULL)', constraint='CONSTRAINT', execute="orchard_stamp('farm_id', 'false')", func='RETURN NULL;', hash='ec7cf3ee0bcf54507616914d6a8a42f1ee30db82', operation='INSERT OR UPDATE', pgid='pgtrigger_stamp_3b5ee', table='records_tracecoverage', timing='DEFERRABLE INITIALLY DEFERRED', when='AFTER')), pgtrigger.compiler.Trigger(name='tombstone', sql=pgtrigger.compiler.UpsertTriggerSql(func='\n            INSERT INTO records_tombstone (farm_id, kind, row_id, deleted_at)\n            SELECT "farm_id", TG_TABLE_NAME, id, now() FROM gone WHERE "farm_id" IS NOT NULL;\n            RETURN NULL;\n            ', hash='11af338f7b5c6e7fa03cf6aefdc321e6db49e18d', level='STATEMENT', operation='DELETE', pgid='pgtrigger_tombstone_5c52f', referencing='REFERENCING OLD TABLE AS gone ', table='records_tracecoverage', when='AFTER')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_tracecoverageevent" ("co_op_id", "created_by_id", "ends_on", "farm_id", "id", "is_covered", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "source", "species_id", "starts_on", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."ends_on", new_values."farm_id", new_values."id", new_values."is_covered", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."source", new_values."species_id", new_values."starts_on", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='387a8eb90a5e11e0caf0cd94320181accac8bbe0', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_a2ebc', referencing='REFERENCING NEW TABLE AS new_values ', table='records_tracecoverage', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_tracecoverageevent" ("co_op_id", "created_by_id", "ends_on", "farm_id", "id", "is_covered", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "source", "species_id", "starts_on", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."ends_on", new_values."farm_id", new_values."id", new_values."is_covered", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."source", new_values."species_id", new_values."starts_on", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."created_by_id" IS DISTINCT FROM (new_values."created_by_id") OR old_values."ends_on" IS DISTINCT FROM (new_values."ends_on") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."is_covered" IS DISTINCT FROM (new_values."is_covered") OR old_values."source" IS DISTINCT FROM (new_values."source") OR old_values."species_id" IS DISTINCT FROM (new_values."species_id") OR old_values."starts_on" IS DISTINCT FROM (new_values."starts_on") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='4b03a8741b9bd9d0c945d4afff7e4fec69ec961c', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_502bb', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_tracecoverage', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_tracecoverageevent" ("co_op_id", "created_by_id", "ends_on", "farm_id", "id", "is_covered", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "source", "species_id", "starts_on", "version") SELECT old_values."co_op_id", old_values."created_by_id", old_values."ends_on", old_values."farm_id", old_values."id", old_values."is_covered", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."source", old_values."species_id", old_values."starts_on", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='e3d8d3a9b279967153332f4fe7003bb5bf0cd494', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_49874', referencing='REFERENCING OLD TABLE AS old_values ', table='records_tracecoverage', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='TraceCoverageEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('is_covered', models.BooleanField()),
                ('starts_on', models.DateField()),
                ('ends_on', models.DateField(blank=True, help_text='The last day, if there is one.', null=True)),
                ('source', models.CharField(help_text='Where it is from: the list and its date, or who was asked.', max_length=300)),
                ('co_op', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.coop')),
                ('created_by', models.ForeignKey(db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('farm', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='records.tracecoverage')),
                ('species', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.species')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', '-pgh_created_at', '-pgh_id'], name='tracecoverageevent_farm')],
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='46a168d990ff236afb1a64bbcaf1dbec31f55252', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_8994d', table='records_tracecoverageevent', when='BEFORE'))],
            },
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='coop',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='coop',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='coop',
            name='delete_delete',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='farm',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='farm',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='farm',
            name='delete_delete',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='intake',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='intake',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='intake',
            name='delete_delete',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='lot',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='lot',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='lot',
            name='delete_delete',
        ),
        migrations.AddField(
            model_name='coop',
            name='address',
            field=models.CharField(blank=True, help_text='Street or road, place and country, in one line.', max_length=200),
        ),
        migrations.AddField(
            model_name='coop',
            name='phone',
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name='coopevent',
            name='address',
            field=models.CharField(blank=True, help_text='Street or road, place and country, in one line.', max_length=200),
        ),
        migrations.AddField(
            model_name='coopevent',
            name='phone',
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name='farm',
            name='address',
            field=models.CharField(blank=True, help_text='Street or road, place and country, in one line.', max_length=200),
        ),
        migrations.AddField(
            model_name='farm',
            name='business_name',
            field=models.CharField(blank=True, help_text="Of the business that grows and picks. A packer of the farm's fruit is told it.", max_length=120),
        ),
        migrations.AddField(
            model_name='farm',
            name='phone',
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name='farmevent',
            name='address',
            field=models.CharField(blank=True, help_text='Street or road, place and country, in one line.', max_length=200),
        ),
        migrations.AddField(
            model_name='farmevent',
            name='business_name',
            field=models.CharField(blank=True, help_text="Of the business that grows and picks. A packer of the farm's fruit is told it.", max_length=120),
        ),
        migrations.AddField(
            model_name='farmevent',
            name='phone',
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name='intake',
            name='cooled_on',
            field=models.DateField(blank=True, help_text='The day of cooling before packing, if it was cooled.', null=True),
        ),
        migrations.AddField(
            model_name='intake',
            name='cooling_location',
            field=models.CharField(blank=True, help_text='Where it was cooled: name, phone and address.', max_length=200),
        ),
        migrations.AddField(
            model_name='intakeevent',
            name='cooled_on',
            field=models.DateField(blank=True, help_text='The day of cooling before packing, if it was cooled.', null=True),
        ),
        migrations.AddField(
            model_name='intakeevent',
            name='cooling_location',
            field=models.CharField(blank=True, help_text='Where it was cooled: name, phone and address.', max_length=200),
        ),
        migrations.AddField(
            model_name='lot',
            name='pack_count',
            field=models.PositiveIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(10000)]),
        ),
        migrations.AddField(
            model_name='lot',
            name='pack_unit',
            field=models.CharField(blank=True, help_text='What the packed fruit is counted in: cartons of 5 kg.', max_length=40),
        ),
        migrations.AddField(
            model_name='lot',
            name='packing_document',
            field=models.CharField(blank=True, help_text='Type and number of the document: packing list 4711.', max_length=60),
        ),
        migrations.AddField(
            model_name='lot',
            name='product',
            field=models.CharField(blank=True, help_text='Fruit, cultivar and brand, packaging size and style.', max_length=120),
        ),
        migrations.AddField(
            model_name='lot',
            name='shipped_count',
            field=models.PositiveIntegerField(blank=True, help_text='In the pack unit.', null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(10000)]),
        ),
        migrations.AddField(
            model_name='lot',
            name='shipped_to_location',
            field=models.CharField(blank=True, help_text="The recipient's phone and address.", max_length=200),
        ),
        migrations.AddField(
            model_name='lot',
            name='shipping_document',
            field=models.CharField(blank=True, help_text='Type and number of the document: packing list 4711.', max_length=60),
        ),
        migrations.AddField(
            model_name='lotevent',
            name='pack_count',
            field=models.PositiveIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(10000)]),
        ),
        migrations.AddField(
            model_name='lotevent',
            name='pack_unit',
            field=models.CharField(blank=True, help_text='What the packed fruit is counted in: cartons of 5 kg.', max_length=40),
        ),
        migrations.AddField(
            model_name='lotevent',
            name='packing_document',
            field=models.CharField(blank=True, help_text='Type and number of the document: packing list 4711.', max_length=60),
        ),
        migrations.AddField(
            model_name='lotevent',
            name='product',
            field=models.CharField(blank=True, help_text='Fruit, cultivar and brand, packaging size and style.', max_length=120),
        ),
        migrations.AddField(
            model_name='lotevent',
            name='shipped_count',
            field=models.PositiveIntegerField(blank=True, help_text='In the pack unit.', null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(10000)]),
        ),
        migrations.AddField(
            model_name='lotevent',
            name='shipped_to_location',
            field=models.CharField(blank=True, help_text="The recipient's phone and address.", max_length=200),
        ),
        migrations.AddField(
            model_name='lotevent',
            name='shipping_document',
            field=models.CharField(blank=True, help_text='Type and number of the document: packing list 4711.', max_length=60),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='coop',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_coopevent" ("address", "basis", "code", "id", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "phone", "retired_on", "version") SELECT new_values."address", new_values."basis", new_values."code", new_values."id", new_values."name", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."phone", new_values."retired_on", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='a7198f9a190b89e1bbe947e9ed271f1a0ea14950', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_d17ee', referencing='REFERENCING NEW TABLE AS new_values ', table='records_coop', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='coop',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_coopevent" ("address", "basis", "code", "id", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "phone", "retired_on", "version") SELECT new_values."address", new_values."basis", new_values."code", new_values."id", new_values."name", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."phone", new_values."retired_on", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."address" IS DISTINCT FROM (new_values."address") OR old_values."basis" IS DISTINCT FROM (new_values."basis") OR old_values."code" IS DISTINCT FROM (new_values."code") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."name" IS DISTINCT FROM (new_values."name") OR old_values."phone" IS DISTINCT FROM (new_values."phone") OR old_values."retired_on" IS DISTINCT FROM (new_values."retired_on") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='91f5505823f9d5986bec59e0d7e544a5cb82ae77', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_5ffd7', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_coop', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='coop',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_coopevent" ("address", "basis", "code", "id", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "phone", "retired_on", "version") SELECT old_values."address", old_values."basis", old_values."code", old_values."id", old_values."name", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."phone", old_values."retired_on", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='3885c6671f6ed2b8e6e4fe214ae5207d7bc90e89', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_bba14', referencing='REFERENCING OLD TABLE AS old_values ', table='records_coop', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='farm',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_farmevent" ("address", "adviser_writes", "backdate_days", "business_name", "code", "date_order", "decimal_mark", "id", "latitude", "longitude", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "phone", "retired_on", "season_start_month", "time_zone", "version", "weight_unit") SELECT new_values."address", new_values."adviser_writes", new_values."backdate_days", new_values."business_name", new_values."code", new_values."date_order", new_values."decimal_mark", new_values."id", new_values."latitude", new_values."longitude", new_values."name", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."phone", new_values."retired_on", new_values."season_start_month", new_values."time_zone", new_values."version", new_values."weight_unit" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='1e985709484a85050997d33410a7bdc5c0fdf9d8', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_4d86e', referencing='REFERENCING NEW TABLE AS new_values ', table='records_farm', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='farm',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_farmevent" ("address", "adviser_writes", "backdate_days", "business_name", "code", "date_order", "decimal_mark", "id", "latitude", "longitude", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "phone", "retired_on", "season_start_month", "time_zone", "version", "weight_unit") SELECT new_values."address", new_values."adviser_writes", new_values."backdate_days", new_values."business_name", new_values."code", new_values."date_order", new_values."decimal_mark", new_values."id", new_values."latitude", new_values."longitude", new_values."name", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."phone", new_values."retired_on", new_values."season_start_month", new_values."time_zone", new_values."version", new_values."weight_unit" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."address" IS DISTINCT FROM (new_values."address") OR old_values."adviser_writes" IS DISTINCT FROM (new_values."adviser_writes") OR old_values."backdate_days" IS DISTINCT FROM (new_values."backdate_days") OR old_values."business_name" IS DISTINCT FROM (new_values."business_name") OR old_values."code" IS DISTINCT FROM (new_values."code") OR old_values."date_order" IS DISTINCT FROM (new_values."date_order") OR old_values."decimal_mark" IS DISTINCT FROM (new_values."decimal_mark") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."latitude" IS DISTINCT FROM (new_values."latitude") OR old_values."longitude" IS DISTINCT FROM (new_values."longitude") OR old_values."name" IS DISTINCT FROM (new_values."name") OR old_values."phone" IS DISTINCT FROM (new_values."phone") OR old_values."retired_on" IS DISTINCT FROM (new_values."retired_on") OR old_values."season_start_month" IS DISTINCT FROM (new_values."season_start_month") OR old_values."time_zone" IS DISTINCT FROM (new_values."time_zone") OR old_values."version" IS DISTINCT FROM (new_values."version") OR old_values."weight_unit" IS DISTINCT FROM (new_values."weight_unit")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='1b967a061628a822cc34f271b82345e99c5b4486', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_ec709', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_farm', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='farm',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_farmevent" ("address", "adviser_writes", "backdate_days", "business_name", "code", "date_order", "decimal_mark", "id", "latitude", "longitude", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "phone", "retired_on", "season_start_month", "time_zone", "version", "weight_unit") SELECT old_values."address", old_values."adviser_writes", old_values."backdate_days", old_values."business_name", old_values."code", old_values."date_order", old_values."decimal_mark", old_values."id", old_values."latitude", old_values."longitude", old_values."name", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."phone", old_values."retired_on", old_values."season_start_month", old_values."time_zone", old_values."version", old_values."weight_unit" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='829c7d645dbedb55735116ce2480a6b2142a4eb9', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_230b2', referencing='REFERENCING OLD TABLE AS old_values ', table='records_farm', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='intake',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_intakeevent" ("block_id", "co_op_id", "container_id", "container_tare_g", "containers", "cooled_on", "cooling_location", "created_by_id", "cultivar_id", "delivery_id", "docket", "farm_id", "harvest_import_id", "id", "import_key", "links_version", "net_g", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "received_at", "received_on", "retired_on", "tare_g", "unit", "version", "weight", "weight_kind") SELECT new_values."block_id", new_values."co_op_id", new_values."container_id", new_values."container_tare_g", new_values."containers", new_values."cooled_on", new_values."cooling_location", new_values."created_by_id", new_values."cultivar_id", new_values."delivery_id", new_values."docket", new_values."farm_id", new_values."harvest_import_id", new_values."id", new_values."import_key", new_values."links_version", new_values."net_g", new_values."note", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."received_at", new_values."received_on", new_values."retired_on", new_values."tare_g", new_values."unit", new_values."version", new_values."weight", new_values."weight_kind" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='a6e34a4ad4e444ac7941d9db61b5f9c76c8c44e6', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_ec9f5', referencing='REFERENCING NEW TABLE AS new_values ', table='records_intake', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='intake',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_intakeevent" ("block_id", "co_op_id", "container_id", "container_tare_g", "containers", "cooled_on", "cooling_location", "created_by_id", "cultivar_id", "delivery_id", "docket", "farm_id", "harvest_import_id", "id", "import_key", "links_version", "net_g", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "received_at", "received_on", "retired_on", "tare_g", "unit", "version", "weight", "weight_kind") SELECT new_values."block_id", new_values."co_op_id", new_values."container_id", new_values."container_tare_g", new_values."containers", new_values."cooled_on", new_values."cooling_location", new_values."created_by_id", new_values."cultivar_id", new_values."delivery_id", new_values."docket", new_values."farm_id", new_values."harvest_import_id", new_values."id", new_values."import_key", new_values."links_version", new_values."net_g", new_values."note", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."received_at", new_values."received_on", new_values."retired_on", new_values."tare_g", new_values."unit", new_values."version", new_values."weight", new_values."weight_kind" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."block_id" IS DISTINCT FROM (new_values."block_id") OR old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."container_id" IS DISTINCT FROM (new_values."container_id") OR old_values."container_tare_g" IS DISTINCT FROM (new_values."container_tare_g") OR old_values."containers" IS DISTINCT FROM (new_values."containers") OR old_values."cooled_on" IS DISTINCT FROM (new_values."cooled_on") OR old_values."cooling_location" IS DISTINCT FROM (new_values."cooling_location") OR old_values."created_by_id" IS DISTINCT FROM (new_values."created_by_id") OR old_values."cultivar_id" IS DISTINCT FROM (new_values."cultivar_id") OR old_values."delivery_id" IS DISTINCT FROM (new_values."delivery_id") OR old_values."docket" IS DISTINCT FROM (new_values."docket") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."harvest_import_id" IS DISTINCT FROM (new_values."harvest_import_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."import_key" IS DISTINCT FROM (new_values."import_key") OR old_values."links_version" IS DISTINCT FROM (new_values."links_version") OR old_values."net_g" IS DISTINCT FROM (new_values."net_g") OR old_values."note" IS DISTINCT FROM (new_values."note") OR old_values."received_at" IS DISTINCT FROM (new_values."received_at") OR old_values."received_on" IS DISTINCT FROM (new_values."received_on") OR old_values."retired_on" IS DISTINCT FROM (new_values."retired_on") OR old_values."tare_g" IS DISTINCT FROM (new_values."tare_g") OR old_values."unit" IS DISTINCT FROM (new_values."unit") OR old_values."version" IS DISTINCT FROM (new_values."version") OR old_values."weight" IS DISTINCT FROM (new_values."weight") OR old_values."weight_kind" IS DISTINCT FROM (new_values."weight_kind")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='a7c8e4df2e94463122eb29868e29a930197a8d2f', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_e0742', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_intake', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='intake',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_intakeevent" ("block_id", "co_op_id", "container_id", "container_tare_g", "containers", "cooled_on", "cooling_location", "created_by_id", "cultivar_id", "delivery_id", "docket", "farm_id", "harvest_import_id", "id", "import_key", "links_version", "net_g", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "received_at", "received_on", "retired_on", "tare_g", "unit", "version", "weight", "weight_kind") SELECT old_values."block_id", old_values."co_op_id", old_values."container_id", old_values."container_tare_g", old_values."containers", old_values."cooled_on", old_values."cooling_location", old_values."created_by_id", old_values."cultivar_id", old_values."delivery_id", old_values."docket", old_values."farm_id", old_values."harvest_import_id", old_values."id", old_values."import_key", old_values."links_version", old_values."net_g", old_values."note", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."received_at", old_values."received_on", old_values."retired_on", old_values."tare_g", old_values."unit", old_values."version", old_values."weight", old_values."weight_kind" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='23a0430770b2c2af2980e6f7a21944fc13db119d', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_be8ce', referencing='REFERENCING OLD TABLE AS old_values ', table='records_intake', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='lot',
            trigger=pgtrigger.compiler.Trigger(name='keep_code', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN ((OLD.code, OLD.farm_id, OLD.co_op_id) IS DISTINCT FROM (NEW.code, NEW.farm_id, NEW.co_op_id))', func="RAISE EXCEPTION 'A lot keeps its code and its packer.' USING ERRCODE = 'check_violation', CONSTRAINT = 'lot_keeps_its_code';", hash='7512e4a9d2ed8d5a0d57ac5696be6fcbb1a33b67', operation='UPDATE OF "code", "farm_id", "co_op_id"', pgid='pgtrigger_keep_code_435cc', table='records_lot', when='BEFORE')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='lot',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_lotevent" ("co_op_id", "code", "created_by_id", "farm_id", "harvest_import_id", "id", "import_key", "links_version", "note", "pack_count", "pack_unit", "packed_on", "packing_document", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "product", "recorded_at", "retired_on", "shipped_count", "shipped_on", "shipped_to", "shipped_to_location", "shipping_document", "version") SELECT new_values."co_op_id", new_values."code", new_values."created_by_id", new_values."farm_id", new_values."harvest_import_id", new_values."id", new_values."import_key", new_values."links_version", new_values."note", new_values."pack_count", new_values."pack_unit", new_values."packed_on", new_values."packing_document", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."product", new_values."recorded_at", new_values."retired_on", new_values."shipped_count", new_values."shipped_on", new_values."shipped_to", new_values."shipped_to_location", new_values."shipping_document", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='0052f40ed0f9044f549622739a89db57acae33e5', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_6ae30', referencing='REFERENCING NEW TABLE AS new_values ', table='records_lot', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='lot',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_lotevent" ("co_op_id", "code", "created_by_id", "farm_id", "harvest_import_id", "id", "import_key", "links_version", "note", "pack_count", "pack_unit", "packed_on", "packing_document", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "product", "recorded_at", "retired_on", "shipped_count", "shipped_on", "shipped_to", "shipped_to_location", "shipping_document", "version") SELECT new_values."co_op_id", new_values."code", new_values."created_by_id", new_values."farm_id", new_values."harvest_import_id", new_values."id", new_values."import_key", new_values."links_version", new_values."note", new_values."pack_count", new_values."pack_unit", new_values."packed_on", new_values."packing_document", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."product", new_values."recorded_at", new_values."retired_on", new_values."shipped_count", new_values."shipped_on", new_values."shipped_to", new_values."shipped_to_location", new_values."shipping_document", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."code" IS DISTINCT FROM (new_values."code") OR old_values."created_by_id" IS DISTINCT FROM (new_values."created_by_id") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."harvest_import_id" IS DISTINCT FROM (new_values."harvest_import_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."import_key" IS DISTINCT FROM (new_values."import_key") OR old_values."links_version" IS DISTINCT FROM (new_values."links_version") OR old_values."note" IS DISTINCT FROM (new_values."note") OR old_values."pack_count" IS DISTINCT FROM (new_values."pack_count") OR old_values."pack_unit" IS DISTINCT FROM (new_values."pack_unit") OR old_values."packed_on" IS DISTINCT FROM (new_values."packed_on") OR old_values."packing_document" IS DISTINCT FROM (new_values."packing_document") OR old_values."product" IS DISTINCT FROM (new_values."product") OR old_values."recorded_at" IS DISTINCT FROM (new_values."recorded_at") OR old_values."retired_on" IS DISTINCT FROM (new_values."retired_on") OR old_values."shipped_count" IS DISTINCT FROM (new_values."shipped_count") OR old_values."shipped_on" IS DISTINCT FROM (new_values."shipped_on") OR old_values."shipped_to" IS DISTINCT FROM (new_values."shipped_to") OR old_values."shipped_to_location" IS DISTINCT FROM (new_values."shipped_to_location") OR old_values."shipping_document" IS DISTINCT FROM (new_values."shipping_document") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='ba3d92af041f732788c8a26ec10fddcd7b038395', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_17bea', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_lot', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='lot',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_lotevent" ("co_op_id", "code", "created_by_id", "farm_id", "harvest_import_id", "id", "import_key", "links_version", "note", "pack_count", "pack_unit", "packed_on", "packing_document", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "product", "recorded_at", "retired_on", "shipped_count", "shipped_on", "shipped_to", "shipped_to_location", "shipping_document", "version") SELECT old_values."co_op_id", old_values."code", old_values."created_by_id", old_values."farm_id", old_values."harvest_import_id", old_values."id", old_values."import_key", old_values."links_version", old_values."note", old_values."pack_count", old_values."pack_unit", old_values."packed_on", old_values."packing_document", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."product", old_values."recorded_at", old_values."retired_on", old_values."shipped_count", old_values."shipped_on", old_values."shipped_to", old_values."shipped_to_location", old_values."shipping_document", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='79af9444246ef4c8e4c19246d5e2ce759d032965', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_dd258', referencing='REFERENCING OLD TABLE AS old_values ', table='records_lot', when='AFTER')),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.CheckConstraint(condition=models.Q(('pack_count__isnull', True), models.Q(('pack_unit', ''), _negated=True), _connector='OR'), name='lot_count_has_a_unit', violation_error_message='Say what is counted: the pack unit.'),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.CheckConstraint(condition=models.Q(('shipped_count__isnull', True), models.Q(('pack_count__isnull', False), ('shipped_count__lte', models.F('pack_count'))), _connector='OR'), name='lot_ships_what_was_packed', violation_error_message='No more is shipped than was packed: give both counts.'),
        ),
        TICK_INDEXES,
    ]
