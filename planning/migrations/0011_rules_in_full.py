import django.core.validators
import django.db.models.deletion
import pgtrigger.compiler
import pgtrigger.migrations
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('planning', '0010_derived_tombstones'),
        ('records', '0012_derived_tombstones'),
    ]

    operations = [
        pgtrigger.migrations.RemoveTrigger(
            model_name='taskrule',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='taskrule',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='taskrule',
            name='delete_delete',
        ),
        migrations.RemoveConstraint(
            model_name='taskrule',
            name='task_rule_of_dates_has_its_dates',
        ),
        migrations.RemoveConstraint(
            model_name='taskrule',
            name='task_rule_counts_its_days',
        ),
        migrations.RemoveConstraint(
            model_name='taskrule',
            name='task_rule_days_in_order',
        ),
        migrations.RemoveConstraint(
            model_name='taskrule',
            name='task_rule_after_work_names_it',
        ),
        migrations.RemoveConstraint(
            model_name='taskrule',
            name='task_rule_after_a_stage_names_it',
        ),
        migrations.RenameField(
            model_name='alert',
            old_name='task_key',
            new_name='subject',
        ),
        migrations.AddField(
            model_name='nexttask',
            name='days_late',
            field=models.PositiveSmallIntegerField(help_text='How many days after its best day it was done; null: it is not.', null=True),
        ),
        migrations.AddField(
            model_name='nexttask',
            name='expected_minutes',
            field=models.PositiveIntegerField(help_text='Of all people together.', null=True),
        ),
        migrations.AddField(
            model_name='nexttask',
            name='expected_people',
            field=models.PositiveSmallIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='nexttask',
            name='hours',
            field=models.JSONField(default=list, help_text='Parts of the day: the work, from and until, with the UTC offset.'),
        ),
        migrations.AddField(
            model_name='taskrule',
            name='after_degree_days',
            field=models.FloatField(blank=True, help_text='Degree days (C) since work or a stage.', null=True, validators=[django.core.validators.MinValueValidator(0.1), django.core.validators.MaxValueValidator(20000)]),
        ),
        migrations.AddField(
            model_name='taskrule',
            name='after_event',
            field=models.CharField(blank=True, choices=[('season-start', "the season's start"), ('season-end', "the season's end"), ('first-picking', "the crop's first picking"), ('last-picking', "the crop's end of picking, else its last so far")], max_length=13),
        ),
        migrations.AddField(
            model_name='taskrule',
            name='base_c',
            field=models.FloatField(blank=True, help_text='The temperature (C) above which they are counted.', null=True, validators=[django.core.validators.MinValueValidator(-5), django.core.validators.MaxValueValidator(25)]),
        ),
        migrations.AddField(
            model_name='taskrule',
            name='only_while',
            field=models.CharField(blank=True, choices=[('none-yet', 'no work of a kind is on record yet'), ('uncounted-round', 'a round has no count yet')], help_text='What is still to be done is listed only while this record is missing.', max_length=15),
        ),
        migrations.AddField(
            model_name='taskrule',
            name='only_while_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Of a round: when it is so many days old.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AddField(
            model_name='taskrule',
            name='only_while_detail',
            field=models.CharField(blank=True, choices=[('initial', 'fruit that set'), ('retained', 'fruit still there')], max_length=8),
        ),
        migrations.AddField(
            model_name='taskrule',
            name='only_while_kind',
            field=models.CharField(blank=True, choices=[('pruning', 'pruning'), ('leaf-stripping', 'leaf stripping'), ('pollination', 'pollination'), ('bagging', 'bagging fruit'), ('counting', 'counting'), ('thinning', 'thinning fruit'), ('picking', 'picking'), ('spraying', 'spraying'), ('irrigation', 'irrigation'), ('fertilising', 'fertilising'), ('weeding', 'weeding'), ('training', 'training shoots'), ('other', 'other work')], max_length=16),
        ),
        migrations.AddField(
            model_name='taskruleevent',
            name='after_degree_days',
            field=models.FloatField(blank=True, help_text='Degree days (C) since work or a stage.', null=True, validators=[django.core.validators.MinValueValidator(0.1), django.core.validators.MaxValueValidator(20000)]),
        ),
        migrations.AddField(
            model_name='taskruleevent',
            name='after_event',
            field=models.CharField(blank=True, choices=[('season-start', "the season's start"), ('season-end', "the season's end"), ('first-picking', "the crop's first picking"), ('last-picking', "the crop's end of picking, else its last so far")], max_length=13),
        ),
        migrations.AddField(
            model_name='taskruleevent',
            name='base_c',
            field=models.FloatField(blank=True, help_text='The temperature (C) above which they are counted.', null=True, validators=[django.core.validators.MinValueValidator(-5), django.core.validators.MaxValueValidator(25)]),
        ),
        migrations.AddField(
            model_name='taskruleevent',
            name='only_while',
            field=models.CharField(blank=True, choices=[('none-yet', 'no work of a kind is on record yet'), ('uncounted-round', 'a round has no count yet')], help_text='What is still to be done is listed only while this record is missing.', max_length=15),
        ),
        migrations.AddField(
            model_name='taskruleevent',
            name='only_while_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Of a round: when it is so many days old.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AddField(
            model_name='taskruleevent',
            name='only_while_detail',
            field=models.CharField(blank=True, choices=[('initial', 'fruit that set'), ('retained', 'fruit still there')], max_length=8),
        ),
        migrations.AddField(
            model_name='taskruleevent',
            name='only_while_kind',
            field=models.CharField(blank=True, choices=[('pruning', 'pruning'), ('leaf-stripping', 'leaf stripping'), ('pollination', 'pollination'), ('bagging', 'bagging fruit'), ('counting', 'counting'), ('thinning', 'thinning fruit'), ('picking', 'picking'), ('spraying', 'spraying'), ('irrigation', 'irrigation'), ('fertilising', 'fertilising'), ('weeding', 'weeding'), ('training', 'training shoots'), ('other', 'other work')], max_length=16),
        ),
        migrations.AlterField(
            model_name='alert',
            name='about_on',
            field=models.DateField(help_text='The day that the fact is about.'),
        ),
        migrations.AlterField(
            model_name='alert',
            name='block',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.block'),
        ),
        migrations.AlterField(
            model_name='alert',
            name='kind',
            field=models.CharField(choices=[('opening-soon', 'opening soon'), ('due', 'due on its best day'), ('overdue', 'overdue'), ('missed', 'missed'), ('bloom-early', 'bloom sooner than forecast'), ('bloom-late', 'bloom later than forecast'), ('frost', 'frost in bloom'), ('dry-heat', 'heat with dry air in bloom'), ('short-crew', 'the crew does not fit')], max_length=12),
        ),
        migrations.AlterField(
            model_name='alert',
            name='reason',
            field=models.CharField(max_length=2000),
        ),
        migrations.AlterField(
            model_name='alert',
            name='season_year',
            field=models.SmallIntegerField(null=True),
        ),
        migrations.AlterField(
            model_name='alertacknowledgement',
            name='block',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.block'),
        ),
        migrations.AlterField(
            model_name='alertacknowledgementevent',
            name='block',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.block'),
        ),
        migrations.AlterField(
            model_name='nexttask',
            name='reason',
            field=models.CharField(max_length=2000),
        ),
        migrations.AlterField(
            model_name='nexttask',
            name='state',
            field=models.CharField(choices=[('coming', 'coming'), ('open', 'open'), ('overdue', 'overdue'), ('missed', 'missed'), ('done', 'done'), ('skipped', 'skipped')], max_length=9),
        ),
        migrations.AlterField(
            model_name='taskchoice',
            name='block',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.block'),
        ),
        migrations.AlterField(
            model_name='taskchoiceevent',
            name='block',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.block'),
        ),
        migrations.AlterField(
            model_name='taskrule',
            name='best_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='As before.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AlterField(
            model_name='taskrule',
            name='closes_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Days after what sets it off; a stage too.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AlterField(
            model_name='taskrule',
            name='opens_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Days after what sets it off; before a stage, days ahead of it.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AlterField(
            model_name='taskrule',
            name='trigger',
            field=models.CharField(choices=[('dates', 'between two days of every year'), ('before-stage', 'just before a growth stage, as forecast, else dates'), ('after-work', 'days after work of a kind'), ('after-stage', 'days after a growth stage, as forecast until it is seen'), ('after-event', 'days after an event of the season'), ('after-heat', 'days after degree days have gathered since work or a stage')], max_length=12),
        ),
        migrations.AlterField(
            model_name='taskruleevent',
            name='best_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='As before.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AlterField(
            model_name='taskruleevent',
            name='closes_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Days after what sets it off; a stage too.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AlterField(
            model_name='taskruleevent',
            name='opens_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Days after what sets it off; before a stage, days ahead of it.', null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(730)]),
        ),
        migrations.AlterField(
            model_name='taskruleevent',
            name='trigger',
            field=models.CharField(choices=[('dates', 'between two days of every year'), ('before-stage', 'just before a growth stage, as forecast, else dates'), ('after-work', 'days after work of a kind'), ('after-stage', 'days after a growth stage, as forecast until it is seen'), ('after-event', 'days after an event of the season'), ('after-heat', 'days after degree days have gathered since work or a stage')], max_length=12),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='taskrule',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_taskruleevent" ("after_bbch_from", "after_bbch_to", "after_degree_days", "after_event", "after_kind", "after_stage", "after_which", "base_c", "because", "best_days", "best_on_day", "block_id", "closes_days", "closes_on_day", "code", "detail", "early_days", "farm_id", "id", "is_active", "kind", "noun", "only_while", "only_while_days", "only_while_detail", "only_while_kind", "opens_days", "opens_on_day", "origin", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "repeat_best_days", "repeat_closes_days", "repeat_for_days", "repeat_opens_days", "repeat_times", "shown_by", "source", "species_id", "title", "trigger", "until_bbch_from", "until_bbch_to", "until_stage", "version") SELECT new_values."after_bbch_from", new_values."after_bbch_to", new_values."after_degree_days", new_values."after_event", new_values."after_kind", new_values."after_stage", new_values."after_which", new_values."base_c", new_values."because", new_values."best_days", new_values."best_on_day", new_values."block_id", new_values."closes_days", new_values."closes_on_day", new_values."code", new_values."detail", new_values."early_days", new_values."farm_id", new_values."id", new_values."is_active", new_values."kind", new_values."noun", new_values."only_while", new_values."only_while_days", new_values."only_while_detail", new_values."only_while_kind", new_values."opens_days", new_values."opens_on_day", new_values."origin", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."repeat_best_days", new_values."repeat_closes_days", new_values."repeat_for_days", new_values."repeat_opens_days", new_values."repeat_times", new_values."shown_by", new_values."source", new_values."species_id", new_values."title", new_values."trigger", new_values."until_bbch_from", new_values."until_bbch_to", new_values."until_stage", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='f5bb1805a15eb8e7bacde691a30bf566a76cb150', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_eeb93', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_taskrule', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='taskrule',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_taskruleevent" ("after_bbch_from", "after_bbch_to", "after_degree_days", "after_event", "after_kind", "after_stage", "after_which", "base_c", "because", "best_days", "best_on_day", "block_id", "closes_days", "closes_on_day", "code", "detail", "early_days", "farm_id", "id", "is_active", "kind", "noun", "only_while", "only_while_days", "only_while_detail", "only_while_kind", "opens_days", "opens_on_day", "origin", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "repeat_best_days", "repeat_closes_days", "repeat_for_days", "repeat_opens_days", "repeat_times", "shown_by", "source", "species_id", "title", "trigger", "until_bbch_from", "until_bbch_to", "until_stage", "version") SELECT new_values."after_bbch_from", new_values."after_bbch_to", new_values."after_degree_days", new_values."after_event", new_values."after_kind", new_values."after_stage", new_values."after_which", new_values."base_c", new_values."because", new_values."best_days", new_values."best_on_day", new_values."block_id", new_values."closes_days", new_values."closes_on_day", new_values."code", new_values."detail", new_values."early_days", new_values."farm_id", new_values."id", new_values."is_active", new_values."kind", new_values."noun", new_values."only_while", new_values."only_while_days", new_values."only_while_detail", new_values."only_while_kind", new_values."opens_days", new_values."opens_on_day", new_values."origin", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."repeat_best_days", new_values."repeat_closes_days", new_values."repeat_for_days", new_values."repeat_opens_days", new_values."repeat_times", new_values."shown_by", new_values."source", new_values."species_id", new_values."title", new_values."trigger", new_values."until_bbch_from", new_values."until_bbch_to", new_values."until_stage", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."after_bbch_from" IS DISTINCT FROM (new_values."after_bbch_from") OR old_values."after_bbch_to" IS DISTINCT FROM (new_values."after_bbch_to") OR old_values."after_degree_days" IS DISTINCT FROM (new_values."after_degree_days") OR old_values."after_event" IS DISTINCT FROM (new_values."after_event") OR old_values."after_kind" IS DISTINCT FROM (new_values."after_kind") OR old_values."after_stage" IS DISTINCT FROM (new_values."after_stage") OR old_values."after_which" IS DISTINCT FROM (new_values."after_which") OR old_values."base_c" IS DISTINCT FROM (new_values."base_c") OR old_values."because" IS DISTINCT FROM (new_values."because") OR old_values."best_days" IS DISTINCT FROM (new_values."best_days") OR old_values."best_on_day" IS DISTINCT FROM (new_values."best_on_day") OR old_values."block_id" IS DISTINCT FROM (new_values."block_id") OR old_values."closes_days" IS DISTINCT FROM (new_values."closes_days") OR old_values."closes_on_day" IS DISTINCT FROM (new_values."closes_on_day") OR old_values."code" IS DISTINCT FROM (new_values."code") OR old_values."detail" IS DISTINCT FROM (new_values."detail") OR old_values."early_days" IS DISTINCT FROM (new_values."early_days") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."is_active" IS DISTINCT FROM (new_values."is_active") OR old_values."kind" IS DISTINCT FROM (new_values."kind") OR old_values."noun" IS DISTINCT FROM (new_values."noun") OR old_values."only_while" IS DISTINCT FROM (new_values."only_while") OR old_values."only_while_days" IS DISTINCT FROM (new_values."only_while_days") OR old_values."only_while_detail" IS DISTINCT FROM (new_values."only_while_detail") OR old_values."only_while_kind" IS DISTINCT FROM (new_values."only_while_kind") OR old_values."opens_days" IS DISTINCT FROM (new_values."opens_days") OR old_values."opens_on_day" IS DISTINCT FROM (new_values."opens_on_day") OR old_values."origin" IS DISTINCT FROM (new_values."origin") OR old_values."repeat_best_days" IS DISTINCT FROM (new_values."repeat_best_days") OR old_values."repeat_closes_days" IS DISTINCT FROM (new_values."repeat_closes_days") OR old_values."repeat_for_days" IS DISTINCT FROM (new_values."repeat_for_days") OR old_values."repeat_opens_days" IS DISTINCT FROM (new_values."repeat_opens_days") OR old_values."repeat_times" IS DISTINCT FROM (new_values."repeat_times") OR old_values."shown_by" IS DISTINCT FROM (new_values."shown_by") OR old_values."source" IS DISTINCT FROM (new_values."source") OR old_values."species_id" IS DISTINCT FROM (new_values."species_id") OR old_values."title" IS DISTINCT FROM (new_values."title") OR old_values."trigger" IS DISTINCT FROM (new_values."trigger") OR old_values."until_bbch_from" IS DISTINCT FROM (new_values."until_bbch_from") OR old_values."until_bbch_to" IS DISTINCT FROM (new_values."until_bbch_to") OR old_values."until_stage" IS DISTINCT FROM (new_values."until_stage") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='1c9cc1f9df97fe60422b8ff3500070a8f481e958', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_0e0a9', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_taskrule', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='taskrule',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_taskruleevent" ("after_bbch_from", "after_bbch_to", "after_degree_days", "after_event", "after_kind", "after_stage", "after_which", "base_c", "because", "best_days", "best_on_day", "block_id", "closes_days", "closes_on_day", "code", "detail", "early_days", "farm_id", "id", "is_active", "kind", "noun", "only_while", "only_while_days", "only_while_detail", "only_while_kind", "opens_days", "opens_on_day", "origin", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "repeat_best_days", "repeat_closes_days", "repeat_for_days", "repeat_opens_days", "repeat_times", "shown_by", "source", "species_id", "title", "trigger", "until_bbch_from", "until_bbch_to", "until_stage", "version") SELECT old_values."after_bbch_from", old_values."after_bbch_to", old_values."after_degree_days", old_values."after_event", old_values."after_kind", old_values."after_stage", old_values."after_which", old_values."base_c", old_values."because", old_values."best_days", old_values."best_on_day", old_values."block_id", old_values."closes_days", old_values."closes_on_day", old_values."code", old_values."detail", old_values."early_days", old_values."farm_id", old_values."id", old_values."is_active", old_values."kind", old_values."noun", old_values."only_while", old_values."only_while_days", old_values."only_while_detail", old_values."only_while_kind", old_values."opens_days", old_values."opens_on_day", old_values."origin", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."repeat_best_days", old_values."repeat_closes_days", old_values."repeat_for_days", old_values."repeat_opens_days", old_values."repeat_times", old_values."shown_by", old_values."source", old_values."species_id", old_values."title", old_values."trigger", old_values."until_bbch_from", old_values."until_bbch_to", old_values."until_stage", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='a536ad796e60bcf7710b24fc389a42eac6499ca7', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_76013', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_taskrule', when='AFTER')),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('trigger__in', ['dates', 'before-stage']), models.Q(('opens_on_day', ''), _negated=True), models.Q(('best_on_day', ''), _negated=True), models.Q(('closes_on_day', ''), _negated=True), models.Q(('because', ''), _negated=True)), models.Q(models.Q(('trigger__in', ['dates', 'before-stage']), _negated=True), ('because', ''), ('best_on_day', ''), ('closes_on_day', ''), ('opens_on_day', '')), _connector='OR'), name='task_rule_of_dates_has_its_dates', violation_error_message='A rule of dates, or before a stage, has a first, a best and a last day of the year and says why then; other rules have none of these.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('trigger__in', ['dates']), ('best_days__isnull', True), ('closes_days__isnull', True), ('opens_days__isnull', True)), models.Q(models.Q(('trigger__in', ['dates']), _negated=True), ('best_days__isnull', False), ('closes_days__isnull', False), ('opens_days__isnull', False)), _connector='OR'), name='task_rule_counts_its_days', violation_error_message='Work after something opens, is best and closes so many days after it; a rule of dates has no such days.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('trigger__in', ['before-stage']), ('opens_days__gte', models.F('best_days'))), models.Q(models.Q(('trigger__in', ['before-stage']), _negated=True), models.Q(models.Q(('best_days__isnull', True), ('closes_days__isnull', True), ('opens_days__isnull', True)), models.Q(('best_days__gte', models.F('opens_days')), ('closes_days__gte', models.F('best_days'))), _connector='OR')), _connector='OR'), name='task_rule_days_in_order', violation_error_message='Work opens, then is best done, then closes: before a stage, no fewer days ahead than it is best done.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(('trigger__in', ['after-heat']), models.Q(('trigger__in', ['after-work']), models.Q(('after_kind', ''), _negated=True), models.Q(('after_which', ''), _negated=True)), models.Q(models.Q(('trigger__in', ['after-work']), _negated=True), ('after_kind', ''), ('after_which', '')), _connector='OR'), name='task_rule_after_work_names_it', violation_error_message='A rule after work names the kind, and whether the first or the last counts; other rules name none.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(('trigger__in', ['after-heat']), models.Q(('trigger__in', ['after-stage', 'before-stage']), models.Q(('after_bbch_from', ''), _negated=True), models.Q(('after_bbch_to', ''), _negated=True), models.Q(('after_stage', ''), _negated=True)), models.Q(models.Q(('trigger__in', ['after-stage', 'before-stage']), _negated=True), ('after_bbch_from', ''), ('after_bbch_to', ''), ('after_stage', '')), _connector='OR'), name='task_rule_after_a_stage_names_it', violation_error_message='A rule of a growth stage names the stages, from and to, and what they are called; other rules name none.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(('trigger', 'after-stage'), ('shown_by', ''), _connector='OR'), name='task_rule_shown_by_of_a_stage', violation_error_message='Only the stage that a rule comes after is shown by work.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('trigger__in', ['after-event']), models.Q(('after_event', ''), _negated=True)), models.Q(models.Q(('trigger__in', ['after-event']), _negated=True), ('after_event', '')), _connector='OR'), name='task_rule_after_an_event_names_it', violation_error_message='A rule after an event of the season names it; other rules name none.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('trigger__in', ['after-heat']), ('after_degree_days__isnull', False), ('base_c__isnull', False)), models.Q(models.Q(('trigger__in', ['after-heat']), _negated=True), ('after_degree_days__isnull', True), ('base_c__isnull', True)), _connector='OR'), name='task_rule_of_heat_has_its_sum', violation_error_message='A rule of heat has the degree days and the temperature above which they are counted; other rules have neither.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('trigger__in', ['after-heat']), _negated=True), models.Q(models.Q(('after_kind', ''), _negated=True), models.Q(('after_which', ''), _negated=True), ('after_bbch_from', ''), ('after_bbch_to', ''), ('after_stage', '')), models.Q(('after_kind', ''), ('after_which', ''), models.Q(('after_bbch_from', ''), _negated=True), models.Q(('after_bbch_to', ''), _negated=True), models.Q(('after_stage', ''), _negated=True)), _connector='OR'), name='task_rule_of_heat_has_one_anchor', violation_error_message='Degree days are counted from work, the first or the last, or from a stage with its name: give one of the two.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('only_while', 'none-yet'), models.Q(('only_while_kind', ''), _negated=True)), models.Q(models.Q(('only_while', 'none-yet'), _negated=True), ('only_while_kind', '')), _connector='OR'), name='task_rule_only_while_names_the_work', violation_error_message='Say of which kind no work is on record yet; other conditions name none.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('only_while', 'uncounted-round'), ('only_while_days__isnull', False)), models.Q(models.Q(('only_while', 'uncounted-round'), _negated=True), ('only_while_days__isnull', True)), _connector='OR'), name='task_rule_only_while_has_its_days', violation_error_message='Say how old, in days, the round without a count is; other conditions have no such days.'),
        ),
        migrations.AddConstraint(
            model_name='taskrule',
            constraint=models.CheckConstraint(condition=models.Q(('only_while_detail', ''), models.Q(('only_while', ''), _negated=True), _connector='OR'), name='task_rule_only_while_is_whole', violation_error_message='Say what the rule waits for, or leave the count empty.'),
        ),
        migrations.RunSQL(
            "UPDATE planning_nexttask SET state = 'done', days_late = greatest(0, done_on - best_on)"
            " WHERE state = 'done-late'",
            "UPDATE planning_nexttask SET state = 'done-late' WHERE days_late > 0",
        ),
    ]
