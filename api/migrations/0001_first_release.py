"""Records of the edges as of the first release: one migration in the place of those from before it."""

import django.db.models.deletion
import django.utils.timezone
import inventory.models.text_index
from django.conf import settings
from django.db import migrations, models

from inventory.plumbing.together import CreateModels


class Migration(migrations.Migration):

    initial = True

    replaces = [
        ('api', '0001_remember_tokens_and_keys'),
        ('api', '0003_remember_imports'),
        ('api', '0004_reach_changes_and_webhooks'),
        ('api', '0006_keep_the_caller_of_an_import'),
        ('api', '0007_keep_jobs_and_their_answers'),
        ('api', '0008_end_imports_without_a_file'),
        ('api', '0009_describe_webhooks_in_plain_words'),
        ('api', '0010_note_when_a_token_wrote'),
        ('api', '0012_keep_positions_at_risk_line_by_line'),
        ('api', '0013_keep_imported_files_in_parts'),
        ('api', '0014_find_text_by_its_parts'),
        ('api', '0015_keep_long_lists_apart_from_answers'),
        ('api', '0016_find_lines_of_a_job_by_their_place'),
        ('api', '0017_calculate_exposure_again'),
        ('api', '0018_name_several_in_words'),
        ('api', '0019_count_requests_for_all_processes'),
        ('api', '0020_import_files_together'),
        ('api', '0021_keep_answers_of_sources'),
    ]

    dependencies = [
        ('drives', '0001_first_release'),
        ('inventory', '0001_first_release'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        CreateModels([
            migrations.CreateModel(
                name='RateCount',
                fields=[
                    ('key', models.CharField(max_length=120, primary_key=True, serialize=False)),
                    ('minute', models.BigIntegerField()),
                    ('taken', models.BigIntegerField()),
                ],
            ),
            migrations.CreateModel(
                name='AccessToken',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=100)),
                    ('role', models.CharField(choices=[('storeroom', 'storeroom'), ('manager', 'manager'), ('integration', 'integration'), ('viewer', 'viewer')], max_length=20)),
                    ('digest', models.CharField(editable=False, max_length=64, unique=True)),
                    ('prefix', models.CharField(editable=False, max_length=12)),
                    ('scopes', models.JSONField(blank=True, default=list)),
                    ('user', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, to=settings.AUTH_USER_MODEL)),
                    ('created_at', models.DateTimeField(default=django.utils.timezone.now)),
                    ('expires_at', models.DateTimeField(blank=True, null=True)),
                    ('last_used_at', models.DateTimeField(blank=True, null=True)),
                    ('revoked_at', models.DateTimeField(blank=True, null=True)),
                    ('wrote_at', models.DateTimeField(blank=True, editable=False, help_text='Noted where replicas are read from.', null=True)),
                ],
                options={
                    'ordering': ['name', 'pk'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('role__in', ['storeroom', 'manager', 'integration', 'viewer'])), name='access_token_role_known', violation_error_message='The role of a token must be storeroom, manager, integration or viewer.')],
                },
            ),
            migrations.CreateModel(
                name='BackgroundJob',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(max_length=20)),
                    ('parameters', models.JSONField(blank=True, default=dict)),
                    ('scope', models.JSONField(default=dict, help_text='Ids of the plants and storerooms that it may see; null: all.')),
                    ('scope_key', models.CharField(help_text='Digest of the scope.', max_length=64)),
                    ('key', models.CharField(help_text='Digest of kind, parameters and scope.', max_length=64)),
                    ('state', models.CharField(choices=[('queued', 'queued'), ('running', 'running'), ('done', 'done'), ('failed', 'failed'), ('interrupted', 'interrupted: its process ended')], default='queued', max_length=12)),
                    ('done', models.PositiveIntegerField(default=0)),
                    ('total', models.PositiveIntegerField(default=0)),
                    ('attempts', models.PositiveSmallIntegerField(default=0)),
                    ('requested_by_name', models.CharField(blank=True, max_length=150)),
                    ('caller', models.CharField(blank=True, help_text='Token or user, by id: names repeat.', max_length=100)),
                    ('request_id', models.CharField(blank=True, max_length=64)),
                    ('requested_at', models.DateTimeField(default=django.utils.timezone.now)),
                    ('started_at', models.DateTimeField(blank=True, null=True)),
                    ('finished_at', models.DateTimeField(blank=True, null=True)),
                    ('answer', models.JSONField(blank=True, null=True)),
                    ('error', models.CharField(blank=True, max_length=40)),
                ],
                options={
                    'ordering': ['-id'],
                    'indexes': [models.Index(fields=['key', '-started_at'], name='job_answer_of_key'), models.Index(fields=['kind', '-finished_at'], name='job_of_kind')],
                    'constraints': [models.UniqueConstraint(condition=models.Q(('state__in', ('queued', 'running'))), fields=('key',), name='one_unfinished_job_of_a_key', violation_error_message='The same job is under way.'), models.CheckConstraint(condition=models.Q(('state__in', ['queued', 'running', 'done', 'failed', 'interrupted'])), name='job_state_known_word', violation_error_message='state must be one of queued, running, done, failed, interrupted.')],
                },
            ),
            migrations.CreateModel(
                name='AnswerLines',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('job', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='answer_lines', to='api.backgroundjob')),
                    ('list', models.CharField(max_length=20)),
                    ('last', models.PositiveIntegerField()),
                    ('lines', models.JSONField()),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('job', 'list', 'last'), name='answer_lines_have_their_place', violation_error_message='Other lines have this place in the list of the job.')],
                },
            ),
            migrations.CreateModel(
                name='Change',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('at', models.DateTimeField(auto_now_add=True)),
                    ('by_name', models.CharField(max_length=150)),
                    ('request_id', models.CharField(blank=True, max_length=64)),
                    ('action', models.CharField(choices=[('create', 'create'), ('change', 'change'), ('delete', 'delete')], max_length=10)),
                    ('record', models.CharField(help_text='Such as inventory.item.', max_length=60)),
                    ('key', models.CharField(help_text='Its natural key, or its id.', max_length=120)),
                    ('storeroom', models.CharField(blank=True, max_length=20)),
                    ('plant', models.CharField(blank=True, max_length=20)),
                    ('before', models.JSONField(default=dict)),
                    ('after', models.JSONField(default=dict)),
                ],
                options={
                    'ordering': ['-id'],
                    'indexes': [models.Index(fields=['record', 'key', 'id'], name='change_of_record'), models.Index(fields=['by_name', 'id'], name='change_of_person'), inventory.models.text_index.TextIndex(fields=['key', 'by_name'], name='change_text')],
                },
            ),
            migrations.CreateModel(
                name='ExposureLine',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('job', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='exposure_lines', to='api.backgroundjob')),
                    ('place', models.PositiveIntegerField()),
                    ('position', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='drives.position')),
                    ('plant', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='drives.plant')),
                    ('criticality', models.CharField(blank=True, max_length=20)),
                    ('risk', models.JSONField()),
                ],
                options={
                    'ordering': ['job', 'place'],
                    'constraints': [models.UniqueConstraint(fields=('job', 'place'), name='exposure_line_has_its_place', violation_error_message='Another position has this place in the list of the job.'), models.UniqueConstraint(fields=('job', 'position'), name='exposure_line_once', violation_error_message='The job lists this position already.')],
                    'indexes': [models.Index(fields=['job', 'plant', 'place'], name='exposure_line_of_plant')],
                },
            ),
            migrations.CreateModel(
                name='IdempotencyRecord',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('caller', models.CharField(max_length=100)),
                    ('key', models.CharField(max_length=255)),
                    ('operation', models.CharField(max_length=500)),
                    ('body_digest', models.CharField(max_length=64)),
                    ('state', models.CharField(choices=[('done', 'done: the effect stands'), ('refused', 'refused: the state did not allow it')], max_length=10)),
                    ('status', models.PositiveSmallIntegerField()),
                    ('headers', models.JSONField(default=dict)),
                    ('body', models.TextField()),
                    ('created_at', models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('caller', 'key'), name='idempotency_key_once_per_caller', violation_error_message='This idempotency key is in use.')],
                },
            ),
            migrations.CreateModel(
                name='ImportRun',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(max_length=20)),
                    ('file_name', models.CharField(blank=True, max_length=200)),
                    ('source', models.CharField(blank=True, help_text='Its headings are mapped as those of this source.', max_length=40)),
                    ('state', models.CharField(choices=[('mapping', 'its headings are not mapped yet'), ('queued', 'queued'), ('running', 'running'), ('done', 'done'), ('failed', 'failed: nothing was written'), ('interrupted', 'interrupted: nothing was written')], default='queued', max_length=12)),
                    ('dry_run', models.BooleanField(default=False)),
                    ('partial', models.BooleanField(default=False)),
                    ('written', models.BooleanField(default=False)),
                    ('progress', models.JSONField(default=dict)),
                    ('counts', models.JSONField(default=dict)),
                    ('problems', models.JSONField(default=list)),
                    ('notes', models.JSONField(default=list)),
                    ('row_results', models.JSONField(default=list)),
                    ('created_at', models.DateTimeField(default=django.utils.timezone.now)),
                    ('finished_at', models.DateTimeField(blank=True, null=True)),
                    ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_name', models.CharField(blank=True, max_length=150)),
                    ('caller', models.CharField(blank=True, help_text='Token or user, by id: names repeat.', max_length=100)),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['mapping', 'queued', 'running', 'done', 'failed', 'interrupted'])), name='import_run_state_known_word', violation_error_message='state must be one of mapping, queued, running, done, failed, interrupted.')],
                },
            ),
            migrations.CreateModel(
                name='ImportFile',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('run', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='parts', to='api.importrun')),
                    ('number', models.PositiveSmallIntegerField(default=0)),
                    ('content', models.BinaryField()),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('run', 'number'), name='one_part_of_a_file_of_a_number', violation_error_message='The run has this part of its file already.')],
                },
            ),
            migrations.CreateModel(
                name='ImportSet',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=200)),
                    ('source', models.CharField(blank=True, help_text='Where the files come from; what is said of them is kept for it.', max_length=40)),
                    ('state', models.CharField(choices=[('proposed', 'to look through'), ('queued', 'queued'), ('running', 'running'), ('tried', 'tried: nothing was written'), ('done', 'done'), ('refused', 'refused: nothing was written'), ('interrupted', 'interrupted: nothing was written'), ('undone', 'undone')], default='proposed', max_length=12)),
                    ('dry_run', models.BooleanField(default=True)),
                    ('progress', models.JSONField(default=dict)),
                    ('undo_result', models.JSONField(default=dict)),
                    ('created_at', models.DateTimeField(default=django.utils.timezone.now)),
                    ('finished_at', models.DateTimeField(blank=True, null=True)),
                    ('undone_at', models.DateTimeField(blank=True, null=True)),
                    ('undone_by_name', models.CharField(blank=True, max_length=150)),
                    ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_name', models.CharField(blank=True, max_length=150)),
                    ('caller', models.CharField(blank=True, help_text='Token or user, by id: names repeat.', max_length=100)),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['proposed', 'queued', 'running', 'tried', 'done', 'refused', 'interrupted', 'undone'])), name='import_set_state_known_word', violation_error_message='state must be one of proposed, queued, running, tried, done, refused, interrupted, undone.')],
                },
            ),
            migrations.CreateModel(
                name='ImportedChange',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('set', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='changes', to='api.importset')),
                    ('model', models.CharField(help_text='Such as inventory.item.', max_length=60)),
                    ('record_id', models.BigIntegerField()),
                    ('is_new', models.BooleanField()),
                    ('before', models.JSONField(default=dict)),
                    ('after', models.JSONField(default=dict)),
                ],
                options={
                    'ordering': ['id'],
                },
            ),
            migrations.CreateModel(
                name='LoginAttempt',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('username', models.CharField(max_length=150)),
                    ('address', models.CharField(blank=True, max_length=45)),
                    ('at', models.DateTimeField(default=django.utils.timezone.now)),
                    ('succeeded', models.BooleanField(default=False)),
                ],
                options={
                    'ordering': ['-id'],
                    'indexes': [models.Index(fields=['username', 'at'], name='login_attempt_of_name'), models.Index(fields=['address', 'at'], name='login_attempt_of_address')],
                },
            ),
            migrations.CreateModel(
                name='Reach',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('user', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='reach', to=settings.AUTH_USER_MODEL)),
                    ('token', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='reach', to='api.accesstoken')),
                    ('plants', models.ManyToManyField(blank=True, related_name='+', to='drives.plant')),
                    ('storerooms', models.ManyToManyField(blank=True, related_name='+', to='inventory.storeroom')),
                ],
                options={
                    'verbose_name_plural': 'reaches',
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('token__isnull', True), ('user__isnull', False)), models.Q(('token__isnull', False), ('user__isnull', True)), _connector='OR'), name='reach_of_a_user_or_a_token', violation_error_message='A reach belongs to a user or to a token.')],
                },
            ),
            migrations.CreateModel(
                name='SentFile',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('set', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='files', to='api.importset')),
                    ('number', models.PositiveSmallIntegerField()),
                    ('name', models.CharField(max_length=200)),
                ],
                options={
                    'ordering': ['set', 'number'],
                    'constraints': [models.UniqueConstraint(fields=('set', 'number'), name='sent_file_of_a_number_once', violation_error_message='The import has this file already.')],
                },
            ),
            migrations.CreateModel(
                name='ImportSheet',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('set', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='sheets', to='api.importset')),
                    ('file', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='sheets', to='api.sentfile')),
                    ('number', models.PositiveSmallIntegerField()),
                    ('name', models.CharField(blank=True, help_text='Of the sheet; empty for a file of text.', max_length=100)),
                    ('kind', models.CharField(blank=True, max_length=20)),
                    ('columns', models.JSONField(default=list)),
                    ('rows', models.PositiveIntegerField(blank=True, null=True)),
                    ('counts', models.JSONField(default=dict)),
                    ('problems', models.JSONField(default=list)),
                    ('notes', models.JSONField(default=list)),
                    ('row_results', models.JSONField(default=list)),
                ],
                options={
                    'ordering': ['set', 'number'],
                    'constraints': [models.UniqueConstraint(fields=('set', 'number'), name='import_sheet_of_a_number_once', violation_error_message='The import has this sheet already.')],
                },
            ),
            migrations.CreateModel(
                name='SentFilePart',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('file', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='parts', to='api.sentfile')),
                    ('number', models.PositiveSmallIntegerField()),
                    ('content', models.BinaryField()),
                ],
                options={
                    'ordering': ['file', 'number'],
                    'constraints': [models.UniqueConstraint(fields=('file', 'number'), name='part_of_sent_file_once', violation_error_message='The file has this part already.')],
                },
            ),
            migrations.CreateModel(
                name='SourceAnswer',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('source', models.CharField(help_text='The list or the system that it comes from.', max_length=40)),
                    ('kind', models.CharField(help_text='What its rows are.', max_length=20)),
                    ('about', models.CharField(choices=[('heading', 'the column that a heading means'), ('reading', 'how the cells under a heading are meant'), ('word', 'the word that a cell means'), ('missing', 'the text of a column that no heading gives'), ('zone', 'the time zone of its times'), ('rows_at', 'where the records stand in a document'), ('omitted', 'what it means when a record is not in the list any more')], max_length=10)),
                    ('name', models.CharField(blank=True, help_text='The heading or the column; for a word column:word, such as kind:REP.', max_length=200)),
                    ('answer', models.CharField(blank=True, help_text='Empty: the heading is left out, or the cell is empty.', max_length=200)),
                ],
                options={
                    'ordering': ['source', 'kind', 'about', 'name'],
                    'constraints': [models.UniqueConstraint(fields=('source', 'kind', 'about', 'name'), name='source_answer_once', violation_error_message='This is answered for the source already.'), models.CheckConstraint(condition=models.Q(('about__in', ['heading', 'reading', 'word', 'missing', 'zone', 'rows_at', 'omitted'])), name='source_answer_about_known_word', violation_error_message='about must be one of heading, reading, word, missing, zone, rows_at, omitted.')],
                },
            ),
            migrations.CreateModel(
                name='Webhook',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('url', models.CharField(max_length=500)),
                    ('description', models.CharField(blank=True, max_length=200)),
                    ('types', models.JSONField(blank=True, default=list, help_text='Event types; empty: all.')),
                    ('secret', models.TextField(editable=False)),
                    ('previous_secret', models.TextField(blank=True, editable=False)),
                    ('previous_until', models.DateTimeField(blank=True, editable=False, null=True)),
                    ('state', models.CharField(choices=[('active', 'active'), ('paused', 'paused by a person'), ('disabled', 'disabled: deliveries failed for too long, or the endpoint is gone')], default='active', max_length=10)),
                    ('state_reason', models.CharField(blank=True, max_length=200)),
                    ('failing_since', models.DateTimeField(blank=True, null=True)),
                    ('quiet_until', models.DateTimeField(blank=True, help_text='No delivery before this time, as the endpoint requested.', null=True)),
                    ('owner_user', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('owner_token', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='api.accesstoken')),
                    ('from_sequence', models.PositiveBigIntegerField(default=0, help_text='Events after this one are sent.')),
                ],
                options={
                    'ordering': ['id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['active', 'paused', 'disabled'])), name='webhook_state_known_word', violation_error_message='state must be one of active, paused, disabled.')],
                },
            ),
            migrations.CreateModel(
                name='Delivery',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('webhook', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='deliveries', to='api.webhook')),
                    ('event', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='deliveries', to='inventory.event')),
                    ('state', models.CharField(choices=[('waiting', 'waiting'), ('delivered', 'delivered'), ('dead', 'dead: every attempt failed')], default='waiting', max_length=10)),
                    ('attempts', models.PositiveSmallIntegerField(default=0)),
                    ('next_attempt_at', models.DateTimeField(default=django.utils.timezone.now)),
                    ('claimed_until', models.DateTimeField(blank=True, help_text='A worker is at it until then.', null=True)),
                    ('last_status', models.PositiveSmallIntegerField(blank=True, null=True)),
                    ('last_error', models.CharField(blank=True, max_length=200)),
                    ('last_attempt_at', models.DateTimeField(blank=True, null=True)),
                    ('delivered_at', models.DateTimeField(blank=True, null=True)),
                ],
                options={
                    'ordering': ['id'],
                    'constraints': [models.UniqueConstraint(fields=('webhook', 'event'), name='event_once_per_webhook', violation_error_message='This event is on its way to that subscriber already.'), models.CheckConstraint(condition=models.Q(('state__in', ['waiting', 'delivered', 'dead'])), name='delivery_state_known_word', violation_error_message='state must be one of waiting, delivered, dead.')],
                    'indexes': [models.Index(condition=models.Q(('state', 'waiting')), fields=['webhook', 'next_attempt_at'], name='delivery_waiting')],
                },
            ),
        ]),
    ]
