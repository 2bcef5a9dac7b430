"""Records of the inventory as of the first release: one migration in the place of those from before it."""

import datetime
import django.core.validators
import django.db.models.deletion
import django.db.models.expressions
import django.db.models.functions.text
import django.utils.timezone
import inventory.models.fields
import inventory.models.specification
import inventory.models.stock
import inventory.models.text_index
from django.conf import settings
from django.core.management.base import CommandError
from django.db import DatabaseError, migrations, models, transaction

from inventory.plumbing.together import CreateModels

EXTENSION = "pg_trgm"
LINKS, NAME = "inventory_deliverycheck_movements", "delivery_check_movement_is_there"
HOLD_KEYS = [
    f"""ALTER TABLE {LINKS} ADD CONSTRAINT delivery_check_of_movement FOREIGN KEY (deliverycheck_id)
    REFERENCES inventory_deliverycheck (id) DEFERRABLE INITIALLY DEFERRED""",
    f"""CREATE FUNCTION "{NAME}"() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF NOT EXISTS (SELECT FROM inventory_stockentry WHERE id = NEW.stockentry_id) THEN
            RAISE foreign_key_violation USING CONSTRAINT = '{NAME}', MESSAGE =
                format('insert or update on table "{LINKS}" violates foreign key constraint "{NAME}": '
                'inventory_stockentry has no id %s', NEW.stockentry_id);
        END IF;
        RETURN NULL;
    END $$""",
    f"""COMMENT ON FUNCTION "{NAME}"() IS 'inventory_stockentry'""",
    f"""CREATE CONSTRAINT TRIGGER "{NAME}" AFTER INSERT OR UPDATE OF stockentry_id ON {LINKS}
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION "{NAME}"()""",
]
# On the way back the partitions of movements were joined before, which made a foreign key of the trigger.
LET_KEYS_GO = [
    f"""DROP TRIGGER IF EXISTS "{NAME}" ON {LINKS}""",
    f"""DROP FUNCTION IF EXISTS "{NAME}"()""",
]


def add_extension(apps, schema_editor):
    """It ships with PostgreSQL and is trusted: the owner of the database may add it."""
    if schema_editor.connection.vendor != "postgresql":
        return
    try:
        with transaction.atomic(schema_editor.connection.alias), schema_editor.connection.cursor() as cursor:
            cursor.execute(f"CREATE EXTENSION IF NOT EXISTS {EXTENSION}")
    except DatabaseError as error:
        raise CommandError(
            f"Searches need the extension {EXTENSION} of PostgreSQL, and this role could not add it ({str(error).strip()}). "
            f"As the owner of the database run: CREATE EXTENSION {EXTENSION}; then migrate again."
        ) from error


def run(statements):
    def on_postgresql(apps, schema_editor):
        if schema_editor.connection.vendor == "postgresql":
            for statement in statements:
                schema_editor.execute(statement, params=None)

    return on_postgresql


class Migration(migrations.Migration):

    initial = True

    replaces = [
        ('inventory', '0001_specifications_items_and_stock'),
        ('inventory', '0003_rules_name_a_threshold'),
        ('inventory', '0004_supply_orders_policies_and_recommendations'),
        ('inventory', '0005_runs_one_at_a_time_and_unanswered_recommendations'),
        ('inventory', '0006_events_kits_counts_and_questions'),
        ('inventory', '0007_store_reasons_as_facts'),
        ('inventory', '0008_describe_stocking_in_plain_words'),
        ('inventory', '0009_store_demand_reasons_as_facts'),
        ('inventory', '0010_keep_the_code_of_what_to_measure'),
        ('inventory', '0011_describe_stores_in_plain_words'),
        ('inventory', '0012_drop_a_threshold_without_use'),
        ('inventory', '0013_set_staging_days_and_chain_joints'),
        ('inventory', '0014_rules_of_measuring_and_room'),
        ('inventory', '0015_reverse_movements_in_part'),
        ('inventory', '0016_let_worn_parts_leave_the_books'),
        ('inventory', '0017_link_a_misfit_with_its_issue'),
        ('inventory', '0018_keep_settings_of_demand_models'),
        ('inventory', '0019_rules_name_what_no_source_shows'),
        ('inventory', '0020_settings_of_ties_drift_and_new_chain'),
        ('inventory', '0021_find_companions_by_size'),
        ('inventory', '0022_keep_what_a_run_was_made_from'),
        ('inventory', '0023_find_text_by_its_parts'),
        ('inventory', '0024_order_lists_by_index'),
        ('inventory', '0025_find_bushes_by_bore'),
        ('inventory', '0026_find_rows_by_rare_values'),
        ('inventory', '0027_find_each_kind_of_bush'),
        ('inventory', '0028_find_chain_beside_its_sprockets'),
        ('inventory', '0029_order_supply_orders_by_index'),
        ('inventory', '0030_follow_the_record_between_runs'),
        ('inventory', '0031_merge_items'),
        ('inventory', '0032_find_by_chain_and_teeth'),
        ('inventory', '0033_mark_items_to_be_run_down'),
        ('inventory', '0034_check_deliveries'),
        ('inventory', '0035_measure_at_a_count'),
        ('inventory', '0036_order_recommendations_by_index'),
        ('inventory', '0037_order_transfer_times_by_index'),
        ('inventory', '0038_name_several_in_words'),
    ]

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        # Left in place on the way back: another application may use it.
        migrations.RunPython(add_extension, migrations.RunPython.noop),
        CreateModels([
            migrations.CreateModel(
                name='Bin',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bins', to='inventory.storeroom')),
                    ('code', models.CharField(max_length=30)),
                ],
                options={
                    'ordering': ['storeroom_id', 'code'],
                    'constraints': [models.UniqueConstraint(fields=('storeroom', 'code'), name='bin_code_once_per_storeroom', violation_error_message='This storeroom already has a bin of that code.')],
                    'indexes': [inventory.models.text_index.TextIndex(fields=['code'], name='bin_text')],
                },
            ),
            migrations.CreateModel(
                name='Kit',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('work_order', models.CharField(max_length=60)),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='kits', to='inventory.storeroom')),
                    ('needed_by', models.DateField(blank=True, null=True)),
                    ('place', models.CharField(blank=True, help_text='Where the parts are staged.', max_length=60)),
                    ('staged_at', models.DateTimeField(blank=True, null=True)),
                    ('state', models.CharField(choices=[('open', 'open'), ('staged', 'staged'), ('used', 'used'), ('released', 'released')], default='open', max_length=10)),
                    ('made_by_name', models.CharField(blank=True, max_length=150)),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['open', 'staged', 'used', 'released'])), name='kit_state_known_word', violation_error_message='state must be one of open, staged, used, released.'), models.UniqueConstraint(condition=models.Q(('state__in', ['open', 'staged'])), fields=('work_order', 'storeroom'), name='one_kit_alive_per_job', violation_error_message='This work order already has a kit in that storeroom: use that one.'), models.CheckConstraint(condition=models.Q(('work_order', ''), _negated=True), name='kit_names_its_job', violation_error_message='work_order must not be empty.')],
                    'indexes': [inventory.models.text_index.TextIndex(fields=['work_order', 'place', 'made_by_name'], name='kit_text')],
                },
            ),
            migrations.CreateModel(
                name='Lease',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=60, unique=True)),
                    ('holder', models.CharField(max_length=120)),
                    ('until', models.DateTimeField()),
                ],
                options={
                    'ordering': ['name'],
                },
            ),
            migrations.CreateModel(
                name='DuplicateGroup',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('likeness', models.CharField(choices=[('equal', 'equal'), ('near', 'nearly equal'), ('words', 'similar words only')], max_length=5)),
                    ('yearly_cost', models.DecimalField(blank=True, decimal_places=2, help_text='Of holding apart, a year; empty: a price is not known.', max_digits=14, null=True)),
                    ('excess_value', models.DecimalField(blank=True, decimal_places=2, help_text='Of pieces on hand beyond one common stock; empty: a price is not known.', max_digits=14, null=True)),
                    ('worth', models.FloatField(default=0, help_text='The cost a year as a number, 0 where it is not known; the highest comes first.')),
                    ('currency', models.CharField(default='EUR', help_text='ISO 4217 code.', max_length=3, validators=[django.core.validators.RegexValidator('^[A-Z]{3}\\Z', 'Give the currency as three capitals, such as EUR.')])),
                    ('pieces_apart', models.PositiveIntegerField(default=0)),
                    ('pieces_together', models.PositiveIntegerField(default=0)),
                    ('differences', models.JSONField(blank=True, default=list, help_text='What differs between two items, with the grade in each direction.')),
                    ('found_at', models.DateTimeField()),
                ],
                options={
                    'ordering': ['-worth', 'id'],
                    'indexes': [models.Index(models.OrderBy(models.F('worth'), descending=True), models.F('id'), name='duplicate_group_by_worth')],
                    'constraints': [models.CheckConstraint(condition=models.Q(('likeness__in', ['equal', 'near', 'words'])), name='duplicate_group_likeness_known_word', violation_error_message='likeness must be one of equal, near, words.')],
                },
            ),
            migrations.CreateModel(
                name='Event',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('type', models.CharField(help_text='Dotted, such as stock.moved.', max_length=60)),
                    ('aggregate', models.CharField(help_text='The subject, such as stock/41-0105/OM-MAIN/new.', max_length=120)),
                    ('version', models.PositiveIntegerField(help_text='Counts the events of its aggregate from 1.')),
                    ('occurred_at', models.DateTimeField()),
                    ('recorded_at', models.DateTimeField(auto_now_add=True)),
                    ('storeroom', models.CharField(blank=True, help_text='Visible to those who may see this storeroom; empty: to everybody.', max_length=20)),
                    ('plant', models.CharField(blank=True, max_length=20)),
                    ('data', models.JSONField(default=dict)),
                    ('sequence', models.PositiveBigIntegerField(blank=True, null=True, unique=True)),
                ],
                options={
                    'ordering': ['id'],
                    'indexes': [models.Index(condition=models.Q(('sequence__isnull', True)), fields=['id'], name='event_waiting')],
                    'constraints': [models.UniqueConstraint(fields=('aggregate', 'version'), name='event_version_once', violation_error_message='This aggregate has an event of that version.'), models.CheckConstraint(condition=models.Q(('version__gte', 1)), name='event_version_from_1', violation_error_message='version counts from 1.')],
                },
            ),
            migrations.CreateModel(
                name='Item',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('stock_number', models.CharField(max_length=40, unique=True)),
                    ('description', models.CharField(blank=True, max_length=200)),
                    ('specification', models.ForeignKey(blank=True, db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='items', to='inventory.specification')),
                    ('unit', models.CharField(choices=[('each', 'each'), ('link', 'link')], default='each', max_length=5)),
                    ('maker', models.CharField(blank=True, max_length=60)),
                    ('maker_part_number', models.CharField(blank=True, max_length=60)),
                    ('unit_cost', models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True)),
                    ('currency', models.CharField(default='EUR', help_text='ISO 4217 code.', max_length=3, validators=[django.core.validators.RegexValidator('^[A-Z]{3}\\Z', 'Give the currency as three capitals, such as EUR.')])),
                    ('lead_time_days', models.PositiveSmallIntegerField(blank=True, null=True)),
                    ('stocked', models.BooleanField(default=True)),
                    ('holding_reason', models.CharField(choices=[('usage', 'usage'), ('insurance', 'insurance'), ('project', 'project'), ('surplus', 'surplus')], default='usage', max_length=10)),
                    ('lifecycle', models.CharField(choices=[('active', 'active'), ('run_down', 'run down'), ('blocked', 'blocked')], default='active', max_length=10)),
                    ('replaced_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaces', to='inventory.item')),
                    ('merged_into', models.ForeignKey(blank=True, db_index=False, help_text='The item that goes on under its number; this one is an old number of it. Written by a merge alone.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='merged_numbers', to='inventory.item')),
                    ('note', models.TextField(blank=True)),
                ],
                options={
                    'ordering': ['stock_number'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('stock_number', ''), _negated=True), name='item_stock_number_given', violation_error_message='stock_number must not be empty.'), models.CheckConstraint(condition=models.Q(('unit_cost__isnull', True), ('unit_cost__gte', 0), _connector='OR'), name='item_unit_cost_not_negative', violation_error_message='unit_cost must be 0 or more.'), models.CheckConstraint(condition=models.Q(('unit__in', ['each', 'link'])), name='item_unit_known_word', violation_error_message='unit must be one of each, link.'), models.CheckConstraint(condition=models.Q(('holding_reason__in', ['usage', 'insurance', 'project', 'surplus'])), name='item_holding_reason_known_word', violation_error_message='holding_reason must be one of usage, insurance, project, surplus.'), models.CheckConstraint(condition=models.Q(('lifecycle__in', ['active', 'run_down', 'blocked'])), name='item_lifecycle_known_word', violation_error_message='lifecycle must be one of active, run_down, blocked.'), models.CheckConstraint(condition=models.Q(('replaced_by__isnull', True), models.Q(('replaced_by', models.F('id')), _negated=True), _connector='OR'), name='item_not_replaced_by_itself', violation_error_message='replaced_by must name another item.'), models.CheckConstraint(condition=models.Q(('merged_into__isnull', True), models.Q(('lifecycle', 'blocked'), models.Q(('merged_into', models.F('id')), _negated=True)), _connector='OR'), name='item_merged_is_blocked', violation_error_message='This number is merged into another one and stays blocked: undo the merge first.'), models.CheckConstraint(condition=models.Q(('lead_time_days__isnull', True), models.Q(('lead_time_days__gte', 1), ('lead_time_days__lte', 3650)), _connector='OR'), name='item_lead_time_days_within_bounds', violation_error_message='lead_time_days must be from 1 to 3650.')],
                    'indexes': [inventory.models.text_index.TextIndex(fields=['stock_number', 'description', 'maker', 'maker_part_number'], keeps_words=True, name='item_text'), models.Index(inventory.models.text_index.NormalForm('stock_number'), name='item_normal_number'), models.Index(inventory.models.text_index.NormalForm('maker_part_number'), condition=models.Q(('maker_part_number__gt', '')), name='item_normal_maker_number'), models.Index(fields=['specification', 'id', 'merged_into'], name='item_numbers_of_part'), models.Index(condition=models.Q(('merged_into__isnull', False)), fields=['merged_into'], name='item_merged_numbers'), models.Index(fields=['description', 'id'], name='item_by_description'), models.Index(fields=['unit_cost', 'id'], name='item_by_unit_cost'), models.Index(fields=['lead_time_days', 'id'], name='item_by_lead_time_days'), models.Index(fields=['updated_at', 'id'], name='item_by_updated_at'), models.Index(fields=['unit'], name='item_of_unit'), models.Index(fields=['stocked'], name='item_of_stocked'), models.Index(fields=['holding_reason'], name='item_of_holding_reason'), models.Index(fields=['lifecycle'], name='item_of_lifecycle'), models.Index(condition=models.Q(('maker__gt', '')), fields=['maker'], name='item_of_maker'), models.Index(condition=models.Q(('maker_part_number__gt', '')), fields=['maker_part_number'], name='item_of_maker_part_number')],
                },
            ),
            migrations.CreateModel(
                name='DuplicateMember',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('group', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='members', to='inventory.duplicategroup')),
                    ('item', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='duplicate_member', to='inventory.item')),
                    ('demand_per_year', models.FloatField(default=0, help_text='Pieces a year, over all storerooms.')),
                ],
                options={
                    'ordering': ['group_id', 'id'],
                },
            ),
            migrations.CreateModel(
                name='MachineShop',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('code', models.SlugField(max_length=20, unique=True)),
                    ('name', models.CharField(max_length=80)),
                    ('timezone', models.CharField(default='UTC', max_length=40, validators=[inventory.models.fields.known_timezone])),
                    ('call_out_minutes', models.PositiveIntegerField(blank=True, help_text='Minutes until someone is there outside opening hours; empty: no call-out.', null=True)),
                    ('phone', models.CharField(blank=True, max_length=40)),
                ],
                options={
                    'ordering': ['code'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('call_out_minutes__isnull', True), models.Q(('call_out_minutes__gte', 0), ('call_out_minutes__lte', 10080)), _connector='OR'), name='machine_shop_call_out_minutes_within_bounds', violation_error_message='call_out_minutes must be from 0 to 10080.')],
                },
            ),
            migrations.CreateModel(
                name='Merge',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('item', models.ForeignKey(help_text='The number that is no longer used.', on_delete=django.db.models.deletion.PROTECT, related_name='merges', to='inventory.item')),
                    ('into', models.ForeignKey(help_text='The number that stays.', on_delete=django.db.models.deletion.PROTECT, related_name='merges_into', to='inventory.item')),
                    ('state', models.CharField(choices=[('merged', 'merged'), ('undone', 'undone')], default='merged', max_length=6)),
                    ('reason', models.CharField(max_length=200)),
                    ('doubts', models.JSONField(blank=True, default=list, help_text='What an engineer had to be asked about, as facts.')),
                    ('needs_approval', models.BooleanField(default=False)),
                    ('approved_by', models.CharField(blank=True, help_text='The engineer who said yes, where one had to be asked.', max_length=150)),
                    ('approval_reason', models.CharField(blank=True, max_length=300)),
                    ('merged_at', models.DateTimeField()),
                    ('merged_by_name', models.CharField(max_length=150)),
                    ('undone_at', models.DateTimeField(blank=True, null=True)),
                    ('undone_by_name', models.CharField(blank=True, max_length=150)),
                    ('undo_reason', models.CharField(blank=True, max_length=200)),
                    ('left_with', models.JSONField(blank=True, default=list, help_text='What stayed with the other number when it was undone, as facts.')),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['merged', 'undone'])), name='merge_state_known_word', violation_error_message='state must be one of merged, undone.'), models.UniqueConstraint(condition=models.Q(('state', 'merged')), fields=('item',), name='item_merged_once', violation_error_message='This number is merged already: undo that merge first.'), models.CheckConstraint(condition=models.Q(('item', models.F('into')), _negated=True), name='merge_into_another_item', violation_error_message='into must name another item.'), models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='merge_says_why', violation_error_message='Say why: give reason.'), models.CheckConstraint(condition=models.Q(('needs_approval', False), models.Q(models.Q(('approved_by', ''), _negated=True), models.Q(('approval_reason', ''), _negated=True)), _connector='OR'), name='merge_with_doubts_is_approved', violation_error_message='The items differ: give approved_by and approval_reason.'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'merged'), ('undone_at__isnull', True)), models.Q(('state', 'undone'), ('undone_at__isnull', False), models.Q(('undo_reason', ''), _negated=True)), _connector='OR'), name='undone_merge_says_why', violation_error_message='Say why it is undone: give reason.')],
                },
            ),
            migrations.CreateModel(
                name='PlantSetting',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('name', models.SlugField(max_length=60, unique=True)),
                    ('value', models.FloatField()),
                    ('note', models.CharField(blank=True, max_length=200)),
                ],
                options={
                    'ordering': ['name'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('name__in', ['fewest_worn_out', 'fewest_months_with_demand', 'fading_intervals', 'fewest_pools', 'prior_events', 'same_need_days', 'substitute_days', 'record_rise_factor', 'record_rise_chance', 'wear_warning_share', 'early_limit_chance', 'new_chain_percent', 'tie_share', 'decision_drift'])), name='plant_setting_is_known', violation_error_message='name must be one of fewest_worn_out, fewest_months_with_demand, fading_intervals, fewest_pools, prior_events, same_need_days, substitute_days, record_rise_factor, record_rise_chance, wear_warning_share, early_limit_chance, new_chain_percent, tie_share, decision_drift.')],
                },
            ),
            migrations.CreateModel(
                name='Rule',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('name', models.SlugField(max_length=60, unique=True)),
                    ('value', models.FloatField()),
                    ('note', models.CharField(blank=True, max_length=200)),
                ],
                options={
                    'ordering': ['name'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('name__in', ['bearing_room_share', 'bore_tolerance_mm', 'cast_iron_least_teeth', 'double_pitch_no_below_teeth', 'double_pitch_wear_limit_percent', 'fast_driver_rpm', 'heavy_mass_kg', 'idler_least_teeth', 'key_pressure_review_mpa', 'measuring_uncertainty_mm', 'narrow_room_mm', 'pitch_tolerance_mm', 'roller_same_share', 'roller_undersize_poor_share', 'room_tolerance_mm', 'side_play_normal_share', 'side_play_poor_share', 'side_play_thin_share', 'small_driver_teeth', 'transverse_pitch_tolerance_mm', 'wall_over_keyseat_depths', 'wall_over_keyseat_share', 'width_clearance_mm'])), name='rule_names_a_threshold', violation_error_message='name must be one of bearing_room_share, bore_tolerance_mm, cast_iron_least_teeth, double_pitch_no_below_teeth, double_pitch_wear_limit_percent, fast_driver_rpm, heavy_mass_kg, idler_least_teeth, key_pressure_review_mpa, measuring_uncertainty_mm, narrow_room_mm, pitch_tolerance_mm, roller_same_share, roller_undersize_poor_share, room_tolerance_mm, side_play_normal_share, side_play_poor_share, side_play_thin_share, small_driver_teeth, transverse_pitch_tolerance_mm, wall_over_keyseat_depths, wall_over_keyseat_share, width_clearance_mm.'), models.CheckConstraint(condition=models.Q(('value__gte', -1000000000.0), ('value__lte', 1000000000.0)), name='rule_value_is_a_number', violation_error_message='value must be a number from -1e9 to 1e9.')],
                },
            ),
            migrations.CreateModel(
                name='RunDown',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='run_downs', to='inventory.item')),
                    ('reason', models.CharField(max_length=200)),
                    ('marked_at', models.DateTimeField(default=django.utils.timezone.now)),
                    ('marked_by_name', models.CharField(max_length=150)),
                    ('undone_at', models.DateTimeField(blank=True, null=True)),
                    ('undone_by_name', models.CharField(blank=True, max_length=150)),
                    ('undone_reason', models.CharField(blank=True, max_length=200)),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.UniqueConstraint(condition=models.Q(('undone_at__isnull', True)), fields=('item',), name='run_down_open_once', violation_error_message='This item is being run down already.'), models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='run_down_has_a_reason', violation_error_message='Give a reason.'), models.CheckConstraint(condition=models.Q(models.Q(('undone_at__isnull', True), ('undone_by_name', ''), ('undone_reason', '')), models.Q(('undone_at__isnull', False), models.Q(('undone_by_name', ''), _negated=True), models.Q(('undone_reason', ''), _negated=True)), _connector='OR'), name='run_down_undone_by_someone', violation_error_message='Who took it back, when and why are given together.')],
                },
            ),
            migrations.CreateModel(
                name='ServiceTarget',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('importance', models.CharField(choices=[('vital', 'vital'), ('essential', 'essential'), ('desirable', 'desirable'), ('unknown', 'not known')], max_length=10, unique=True)),
                    ('kind', models.CharField(choices=[('fill_rate', 'fill rate'), ('cycle_service_level', 'cycle service level'), ('no_backorder', 'no backorder'), ('cost', 'least cost')], default='fill_rate', max_length=20)),
                    ('value', models.FloatField(help_text='Between 0 and 1; not used where the kind is least cost.')),
                    ('tolerable_wait_hours', models.FloatField(blank=True, help_text='A stop this long is acceptable; empty: none is. Parts that an emergency order brings sooner need no stock.', null=True)),
                    ('note', models.CharField(blank=True, max_length=200)),
                ],
                options={
                    'ordering': ['importance'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('value__gt', 0), ('value__lt', 1)), name='service_target_between_0_and_1', violation_error_message='value must be greater than 0 and smaller than 1.'), models.CheckConstraint(condition=models.Q(('tolerable_wait_hours__isnull', True), ('tolerable_wait_hours__gte', 0), _connector='OR'), name='service_target_tolerable_wait_hours_not_negative', violation_error_message='tolerable_wait_hours must be 0 or more.'), models.CheckConstraint(condition=models.Q(('kind__in', ['fill_rate', 'cycle_service_level', 'no_backorder', 'cost'])), name='service_target_kind_known_word', violation_error_message='kind must be one of fill_rate, cycle_service_level, no_backorder, cost.'), models.CheckConstraint(condition=models.Q(('importance__in', ['vital', 'essential', 'desirable', 'unknown'])), name='service_target_importance_known_word', violation_error_message='importance must be one of vital, essential, desirable, unknown.')],
                },
            ),
            migrations.CreateModel(
                name='ShopTime',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('operation', models.CharField(choices=[('bore', 'bore'), ('cut_keyseat', 'cut keyseat'), ('drill_set_screws', 'drill set screws'), ('change_bush', 'change bush'), ('face_hub', 'face hub'), ('turn_hub', 'turn hub'), ('fit_bearing', 'fit bearing'), ('weld_hub', 'weld hub'), ('fit_chain', 'fit chain'), ('adjust_centre', 'adjust centre'), ('other', 'other')], max_length=20, unique=True)),
                    ('minutes', models.PositiveIntegerField()),
                    ('basis', models.CharField(choices=[('estimate', 'estimate'), ('recorded', 'recorded')], default='estimate', max_length=10)),
                    ('note', models.CharField(blank=True, max_length=200)),
                ],
                options={
                    'ordering': ['operation'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('minutes__isnull', True), models.Q(('minutes__gte', 0), ('minutes__lte', 10080)), _connector='OR'), name='shop_time_minutes_within_bounds', violation_error_message='minutes must be from 0 to 10080.'), models.CheckConstraint(condition=models.Q(('operation__in', ['bore', 'cut_keyseat', 'drill_set_screws', 'change_bush', 'face_hub', 'turn_hub', 'fit_bearing', 'weld_hub', 'fit_chain', 'adjust_centre', 'other'])), name='shop_time_operation_known_word', violation_error_message='operation must be one of bore, cut_keyseat, drill_set_screws, change_bush, face_hub, turn_hub, fit_bearing, weld_hub, fit_chain, adjust_centre, other.'), models.CheckConstraint(condition=models.Q(('basis__in', ['estimate', 'recorded'])), name='shop_time_basis_known_word', violation_error_message='basis must be one of estimate, recorded.')],
                },
            ),
            migrations.CreateModel(
                name='Specification',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('chain_designation', models.CharField(blank=True, help_text='Designation of the chain, such as 08B or 60H; empty for a chain outside the standards.', max_length=12)),
                    ('pitch_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Chain pitch in mm.', max_digits=11, null=True)),
                    ('roller_diameter_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Greatest roller (or bush) diameter of the chain in mm.', max_digits=11, null=True)),
                    ('inner_width_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Least inner width of the chain in mm.', max_digits=11, null=True)),
                    ('transverse_pitch_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Distance between strands in mm.', max_digits=11, null=True)),
                    ('strands', models.PositiveSmallIntegerField(blank=True, null=True)),
                    ('kind', models.CharField(choices=[('sprocket', 'sprocket'), ('bush', 'bush'), ('key', 'key'), ('chain', 'chain'), ('joining_link', 'joining link'), ('cranked_link', 'cranked link'), ('hub', 'hub'), ('other', 'other')], default='sprocket', max_length=12)),
                    ('teeth', models.PositiveSmallIntegerField(blank=True, null=True)),
                    ('role_kind', models.CharField(blank=True, choices=[('drive', 'drive'), ('idler', 'idler')], max_length=20)),
                    ('hub_style', models.CharField(blank=True, choices=[('A', 'A'), ('B', 'B'), ('C', 'C'), ('D', 'D'), ('split', 'split'), ('weld_on', 'weld on'), ('flanged', 'flanged')], max_length=20)),
                    ('bore_type', models.CharField(blank=True, choices=[('plain', 'plain'), ('finished', 'finished'), ('tapered', 'tapered'), ('qd', 'qd'), ('hex', 'hex'), ('split', 'split'), ('bearing', 'bearing')], max_length=20)),
                    ('bore_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Bore as it is now, in mm; of a bush, the bore that takes the shaft.', max_digits=11, null=True)),
                    ('max_bore_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Greatest bore with keyway that the hub allows, in mm.', max_digits=11, null=True)),
                    ('keyway_width_mm', models.DecimalField(blank=True, decimal_places=6, max_digits=11, null=True)),
                    ('keyway_depth_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Depth in the hub, in mm.', max_digits=11, null=True)),
                    ('key_standard', models.CharField(blank=True, choices=[('ISO 773', 'ISO 773'), ('ISO 773 low', 'ISO 773 low'), ('ASME B17.1', 'ASME B17.1'), ('BS 46', 'BS 46')], max_length=20)),
                    ('set_screws', models.PositiveSmallIntegerField(blank=True, null=True)),
                    ('bush_size', models.CharField(blank=True, help_text='Size of the bush that it takes, or of the bush itself, such as 1610 or SDS.', max_length=6)),
                    ('hex_across_flats_mm', models.DecimalField(blank=True, decimal_places=6, max_digits=11, null=True)),
                    ('hub_diameter_mm', models.DecimalField(blank=True, decimal_places=6, max_digits=11, null=True)),
                    ('hub_diameter_2_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Other hub of an unequal type C, in mm.', max_digits=11, null=True)),
                    ('length_through_bore_mm', models.DecimalField(blank=True, decimal_places=6, max_digits=11, null=True)),
                    ('outside_diameter_mm', models.DecimalField(blank=True, decimal_places=6, max_digits=11, null=True)),
                    ('tooth_width_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Width of one row of teeth, in mm.', max_digits=11, null=True)),
                    ('material', models.CharField(blank=True, choices=[('carbon_steel', 'carbon steel'), ('alloy_steel', 'alloy steel'), ('cast_iron', 'cast iron'), ('stainless_steel', 'stainless steel'), ('sintered_steel', 'sintered steel'), ('plastic', 'plastic')], max_length=20)),
                    ('material_grade', models.CharField(blank=True, help_text='Such as C45, 304, 316, PA 6.', max_length=30)),
                    ('hardened_teeth', models.BooleanField(blank=True, null=True)),
                    ('food_contact', models.BooleanField(blank=True, help_text='Declared suitable for food contact.', null=True)),
                    ('non_sparking', models.BooleanField(blank=True, help_text='Declared suitable for explosive atmospheres.', null=True)),
                    ('single_cut', models.BooleanField(blank=True, help_text='Double pitch: one gap per chain pitch.', null=True)),
                    ('key_height_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Of a key: its height, in mm.', max_digits=11, null=True)),
                    ('key_length_mm', models.DecimalField(blank=True, decimal_places=6, help_text='Of a key: its length, in mm.', max_digits=11, null=True)),
                    ('mass_kg', models.DecimalField(blank=True, decimal_places=3, max_digits=9, null=True)),
                ],
                options={
                    'ordering': ['id'],
                    'indexes': [models.Index(fields=['kind', 'pitch_mm', 'teeth'], name='specification_shortlist'), models.Index(django.db.models.functions.text.Upper('bush_size'), models.F('bore_mm'), inventory.models.specification.KeywayText('keyway_width_mm', 'keyway_depth_mm', 'key_standard'), condition=models.Q(('kind', 'bush')), name='specification_bush'), models.Index(condition=models.Q(('kind', 'sprocket'), _negated=True), fields=['chain_designation', 'strands', 'kind'], name='specification_beside_chain'), models.Index(fields=['kind', 'keyway_width_mm'], name='specification_key'), models.Index(condition=models.Q(('kind', 'sprocket')), fields=['chain_designation', 'teeth', 'strands'], name='specification_of_chain'), models.Index(fields=['chain_designation', 'id'], name='specification_by_chain_designa'), models.Index(fields=['teeth', 'id'], name='specification_by_teeth'), models.Index(fields=['strands', 'id'], name='specification_by_strands'), models.Index(fields=['bore_mm', 'id'], name='specification_by_bore_mm'), models.Index(fields=['updated_at', 'id'], name='specification_by_updated_at'), models.Index(condition=models.Q(('pitch_mm__isnull', False)), fields=['pitch_mm', 'id'], name='specification_by_pitch_mm'), models.Index(condition=models.Q(('role_kind__gt', '')), fields=['role_kind'], name='spec_of_role_kind'), models.Index(condition=models.Q(('hub_style__gt', '')), fields=['hub_style'], name='spec_of_hub_style'), models.Index(condition=models.Q(('bore_type__gt', '')), fields=['bore_type'], name='spec_of_bore_type'), models.Index(condition=models.Q(('key_standard__gt', '')), fields=['key_standard'], name='spec_of_key_standard'), models.Index(condition=models.Q(('bush_size__gt', '')), fields=['bush_size'], name='spec_of_bush_size'), models.Index(condition=models.Q(('material__gt', '')), fields=['material'], name='spec_of_material'), models.Index(condition=models.Q(('material_grade__gt', '')), fields=['material_grade'], name='spec_of_material_grade'), models.Index(condition=models.Q(('roller_diameter_mm__isnull', False)), fields=['roller_diameter_mm'], name='spec_of_roller_diameter_mm'), models.Index(condition=models.Q(('inner_width_mm__isnull', False)), fields=['inner_width_mm'], name='spec_of_inner_width_mm'), models.Index(condition=models.Q(('transverse_pitch_mm__isnull', False)), fields=['transverse_pitch_mm'], name='spec_of_transverse_pitch_mm'), models.Index(condition=models.Q(('max_bore_mm__isnull', False)), fields=['max_bore_mm'], name='spec_of_max_bore_mm'), models.Index(condition=models.Q(('keyway_width_mm__isnull', False)), fields=['keyway_width_mm'], name='spec_of_keyway_width_mm'), models.Index(condition=models.Q(('keyway_depth_mm__isnull', False)), fields=['keyway_depth_mm'], name='spec_of_keyway_depth_mm'), models.Index(condition=models.Q(('set_screws__isnull', False)), fields=['set_screws'], name='spec_of_set_screws'), models.Index(condition=models.Q(('hex_across_flats_mm__isnull', False)), fields=['hex_across_flats_mm'], name='spec_of_hex_across_flats_mm'), models.Index(condition=models.Q(('hub_diameter_mm__isnull', False)), fields=['hub_diameter_mm'], name='spec_of_hub_diameter_mm'), models.Index(condition=models.Q(('hub_diameter_2_mm__isnull', False)), fields=['hub_diameter_2_mm'], name='spec_of_hub_diameter_2_mm'), models.Index(condition=models.Q(('length_through_bore_mm__isnull', False)), fields=['length_through_bore_mm'], name='spec_of_length_through_bore_mm'), models.Index(condition=models.Q(('outside_diameter_mm__isnull', False)), fields=['outside_diameter_mm'], name='spec_of_outside_diameter_mm'), models.Index(condition=models.Q(('tooth_width_mm__isnull', False)), fields=['tooth_width_mm'], name='spec_of_tooth_width_mm'), models.Index(condition=models.Q(('hardened_teeth__isnull', False)), fields=['hardened_teeth'], name='spec_of_hardened_teeth'), models.Index(condition=models.Q(('food_contact__isnull', False)), fields=['food_contact'], name='spec_of_food_contact'), models.Index(condition=models.Q(('non_sparking__isnull', False)), fields=['non_sparking'], name='spec_of_non_sparking'), models.Index(condition=models.Q(('single_cut__isnull', False)), fields=['single_cut'], name='spec_of_single_cut'), models.Index(condition=models.Q(('key_height_mm__isnull', False)), fields=['key_height_mm'], name='spec_of_key_height_mm'), models.Index(condition=models.Q(('key_length_mm__isnull', False)), fields=['key_length_mm'], name='spec_of_key_length_mm'), models.Index(condition=models.Q(('mass_kg__isnull', False)), fields=['mass_kg'], name='spec_of_mass_kg'), inventory.models.text_index.TextIndex(fields=['chain_designation', 'bush_size', 'material_grade'], name='specification_text')],
                    'constraints': [models.CheckConstraint(condition=models.Q(('pitch_mm__isnull', True), ('pitch_mm__gt', 0), _connector='OR'), name='specification_pitch_mm_positive', violation_error_message='pitch_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('roller_diameter_mm__isnull', True), ('roller_diameter_mm__gt', 0), _connector='OR'), name='specification_roller_diameter_mm_positive', violation_error_message='roller_diameter_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('inner_width_mm__isnull', True), ('inner_width_mm__gt', 0), _connector='OR'), name='specification_inner_width_mm_positive', violation_error_message='inner_width_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('transverse_pitch_mm__isnull', True), ('transverse_pitch_mm__gt', 0), _connector='OR'), name='specification_transverse_pitch_mm_positive', violation_error_message='transverse_pitch_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('bore_mm__isnull', True), ('bore_mm__gt', 0), _connector='OR'), name='specification_bore_mm_positive', violation_error_message='bore_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('max_bore_mm__isnull', True), ('max_bore_mm__gt', 0), _connector='OR'), name='specification_max_bore_mm_positive', violation_error_message='max_bore_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('keyway_width_mm__isnull', True), ('keyway_width_mm__gt', 0), _connector='OR'), name='specification_keyway_width_mm_positive', violation_error_message='keyway_width_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('keyway_depth_mm__isnull', True), ('keyway_depth_mm__gt', 0), _connector='OR'), name='specification_keyway_depth_mm_positive', violation_error_message='keyway_depth_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('hex_across_flats_mm__isnull', True), ('hex_across_flats_mm__gt', 0), _connector='OR'), name='specification_hex_across_flats_mm_positive', violation_error_message='hex_across_flats_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('hub_diameter_mm__isnull', True), ('hub_diameter_mm__gt', 0), _connector='OR'), name='specification_hub_diameter_mm_positive', violation_error_message='hub_diameter_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('hub_diameter_2_mm__isnull', True), ('hub_diameter_2_mm__gt', 0), _connector='OR'), name='specification_hub_diameter_2_mm_positive', violation_error_message='hub_diameter_2_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('length_through_bore_mm__isnull', True), ('length_through_bore_mm__gt', 0), _connector='OR'), name='specification_length_through_bore_mm_positive', violation_error_message='length_through_bore_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('outside_diameter_mm__isnull', True), ('outside_diameter_mm__gt', 0), _connector='OR'), name='specification_outside_diameter_mm_positive', violation_error_message='outside_diameter_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('tooth_width_mm__isnull', True), ('tooth_width_mm__gt', 0), _connector='OR'), name='specification_tooth_width_mm_positive', violation_error_message='tooth_width_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('key_height_mm__isnull', True), ('key_height_mm__gt', 0), _connector='OR'), name='specification_key_height_mm_positive', violation_error_message='key_height_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('key_length_mm__isnull', True), ('key_length_mm__gt', 0), _connector='OR'), name='specification_key_length_mm_positive', violation_error_message='key_length_mm must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('mass_kg__isnull', True), ('mass_kg__gt', 0), _connector='OR'), name='specification_mass_kg_positive', violation_error_message='mass_kg must be greater than 0, or empty if it is not known.'), models.CheckConstraint(condition=models.Q(('teeth__isnull', True), models.Q(('teeth__gte', 6), ('teeth__lte', 400)), _connector='OR'), name='specification_teeth_within_bounds', violation_error_message='teeth must be from 6 to 400.'), models.CheckConstraint(condition=models.Q(('strands__isnull', True), models.Q(('strands__gte', 1), ('strands__lte', 10)), _connector='OR'), name='specification_strands_within_bounds', violation_error_message='strands must be from 1 to 10.'), models.CheckConstraint(condition=models.Q(('set_screws__isnull', True), models.Q(('set_screws__gte', 0), ('set_screws__lte', 8)), _connector='OR'), name='specification_set_screws_within_bounds', violation_error_message='set_screws must be from 0 to 8.'), models.CheckConstraint(condition=models.Q(('hub_style__in', ['A', 'B', 'C', 'D', 'split', 'weld_on', 'flanged', ''])), name='specification_hub_style_known_word', violation_error_message='hub_style must be one of A, B, C, D, split, weld_on, flanged.'), models.CheckConstraint(condition=models.Q(('bore_type__in', ['plain', 'finished', 'tapered', 'qd', 'hex', 'split', 'bearing', ''])), name='specification_bore_type_known_word', violation_error_message='bore_type must be one of plain, finished, tapered, qd, hex, split, bearing.'), models.CheckConstraint(condition=models.Q(('material__in', ['carbon_steel', 'alloy_steel', 'cast_iron', 'stainless_steel', 'sintered_steel', 'plastic', ''])), name='specification_material_known_word', violation_error_message='material must be one of carbon_steel, alloy_steel, cast_iron, stainless_steel, sintered_steel, plastic.'), models.CheckConstraint(condition=models.Q(('key_standard__in', ['ISO 773', 'ISO 773 low', 'ASME B17.1', 'BS 46', ''])), name='specification_key_standard_known_word', violation_error_message='key_standard must be one of ISO 773, ISO 773 low, ASME B17.1, BS 46.'), models.CheckConstraint(condition=models.Q(('role_kind__in', ['drive', 'idler', ''])), name='specification_role_kind_known_word', violation_error_message='role_kind must be one of drive, idler.'), models.CheckConstraint(condition=models.Q(('kind__in', ['sprocket', 'bush', 'key', 'chain', 'joining_link', 'cranked_link', 'hub', 'other'])), name='specification_kind_known_word', violation_error_message='kind must be one of sprocket, bush, key, chain, joining_link, cranked_link, hub, other.'), models.CheckConstraint(condition=models.Q(('bore_mm__isnull', True), ('max_bore_mm__isnull', True), ('max_bore_mm__gte', models.F('bore_mm')), _connector='OR'), name='specification_bore_not_above_greatest', violation_error_message='max_bore_mm must not be smaller than bore_mm.')],
                },
            ),
            migrations.CreateModel(
                name='StockingRun',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('state', models.CharField(choices=[('running', 'running'), ('done', 'done'), ('failed', 'failed')], default='running', max_length=10)),
                    ('as_of', models.DateTimeField(help_text='What happened later is not used.')),
                    ('is_full', models.BooleanField(default=False, help_text='Calculated again even where no input changed.')),
                    ('total', models.PositiveIntegerField(default=0)),
                    ('done', models.PositiveIntegerField(default=0)),
                    ('recomputed', models.PositiveIntegerField(default=0)),
                    ('changed', models.PositiveIntegerField(default=0)),
                    ('started_at', models.DateTimeField(auto_now_add=True)),
                    ('alive_at', models.DateTimeField(blank=True, help_text='The last sign of progress; empty: it has not started yet.', null=True)),
                    ('finished_at', models.DateTimeField(blank=True, null=True)),
                    ('started_by_name', models.CharField(blank=True, max_length=150)),
                    ('error', models.TextField(blank=True)),
                    ('inputs_digest', models.CharField(blank=True, help_text='Of everything that it was made from; empty: not known.', max_length=64)),
                    ('lent_times', models.JSONField(default=dict, help_text='What items without orders of their own borrow.')),
                    ('followed_until', models.DateTimeField(blank=True, help_text='Its results follow what was recorded until then.', null=True)),
                    ('is_behind', models.BooleanField(default=False, help_text='Something was recorded since that waits for the next run.')),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['running', 'done', 'failed'])), name='stocking_run_state_known_word', violation_error_message='state must be one of running, done, failed.'), models.UniqueConstraint(condition=models.Q(('state', 'running')), fields=('state',), name='one_run_at_a_time', violation_error_message='Another run is in progress: wait until it ends.')],
                },
            ),
            migrations.CreateModel(
                name='StockingTerms',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('holding_rate_per_year', models.FloatField(default=0.2, help_text='Cost of holding a piece for a year, as a share of its price.')),
                    ('order_cost', models.DecimalField(blank=True, decimal_places=2, help_text='Of one order line; empty: not known, so every order is for one piece.', max_digits=14, null=True)),
                    ('currency', models.CharField(default='EUR', help_text='ISO 4217 code.', max_length=3, validators=[django.core.validators.RegexValidator('^[A-Z]{3}\\Z', 'Give the currency as three capitals, such as EUR.')])),
                    ('hours_to_expedite', models.FloatField(blank=True, help_text='From the stop to an emergency delivery; empty: from past emergency orders.', null=True)),
                    ('planning_days', models.FloatField(default=7, help_text='From seeing wear to sending the order; counts against the notice that inspections give.')),
                    ('staging_days', models.PositiveSmallIntegerField(default=1, help_text='Days before a job on which its parts are to be there.')),
                    ('chain_joints', models.PositiveSmallIntegerField(default=0, help_text='Joints allowed in one chain beside the one that closes it; 0: every chain is one piece.')),
                    ('worst_grade', models.CharField(choices=[('drop_in', 'drop-in'), ('with_work', 'with work')], default='with_work', help_text='The worst grade at which another part counts as a substitute in stock.', max_length=12)),
                    ('are_set', models.BooleanField(default=False, help_text='The plant has confirmed these values.')),
                ],
                options={
                    'verbose_name_plural': 'stocking terms',
                    'constraints': [models.CheckConstraint(condition=models.Q(('id', 1)), name='stocking_terms_once', violation_error_message='There is one set of stocking terms: change that one.'), models.CheckConstraint(condition=models.Q(('holding_rate_per_year__gt', 0), ('holding_rate_per_year__lte', 10)), name='stocking_terms_holding_rate_within_bounds', violation_error_message='holding_rate_per_year must be greater than 0 and at most 10.'), models.CheckConstraint(condition=models.Q(('order_cost__isnull', True), ('order_cost__gte', 0), _connector='OR'), name='stocking_terms_order_cost_not_negative', violation_error_message='order_cost must be 0 or more.'), models.CheckConstraint(condition=models.Q(('hours_to_expedite__isnull', True), ('hours_to_expedite__gte', 0), _connector='OR'), name='stocking_terms_hours_to_expedite_not_negative', violation_error_message='hours_to_expedite must be 0 or more.'), models.CheckConstraint(condition=models.Q(('planning_days__isnull', True), ('planning_days__gte', 0), _connector='OR'), name='stocking_terms_planning_days_not_negative', violation_error_message='planning_days must be 0 or more.'), models.CheckConstraint(condition=models.Q(('staging_days__isnull', True), models.Q(('staging_days__gte', 0), ('staging_days__lte', 60)), _connector='OR'), name='stocking_terms_staging_days_within_bounds', violation_error_message='staging_days must be from 0 to 60.'), models.CheckConstraint(condition=models.Q(('chain_joints__isnull', True), models.Q(('chain_joints__gte', 0), ('chain_joints__lte', 10)), _connector='OR'), name='stocking_terms_chain_joints_within_bounds', violation_error_message='chain_joints must be from 0 to 10.'), models.CheckConstraint(condition=models.Q(('worst_grade__in', ['drop_in', 'with_work'])), name='stocking_terms_worst_grade_known', violation_error_message='worst_grade must be drop_in or with_work.')],
                },
            ),
            migrations.CreateModel(
                name='StockLevel',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='levels', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='levels', to='inventory.storeroom')),
                    ('bin', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='levels', to='inventory.bin')),
                    ('condition', models.CharField(choices=[('new', 'new'), ('used_serviceable', 'used, serviceable'), ('on_hold', 'on hold')], default='new', max_length=20)),
                    ('on_hand', models.PositiveIntegerField(default=0)),
                    ('reserved', models.PositiveIntegerField(default=0)),
                    ('last_counted_at', models.DateTimeField(blank=True, null=True)),
                    ('is_closed', models.BooleanField(default=False, help_text='Its number is merged into another one: nothing is booked here.')),
                ],
                options={
                    'ordering': ['item_id', 'storeroom_id', 'condition'],
                    'constraints': [models.UniqueConstraint(fields=('item', 'storeroom', 'condition'), name='stock_level_once_per_place', violation_error_message='This item already has a row in that storeroom and condition.'), models.CheckConstraint(condition=models.Q(('on_hand__gte', 0)), name='on_hand_not_negative', violation_error_message='There is not enough on the shelf.'), models.CheckConstraint(condition=models.Q(('reserved__gte', 0), ('reserved__lte', models.F('on_hand'))), name='reserved_not_above_on_hand', violation_error_message='The rest is reserved for other work.'), models.CheckConstraint(condition=models.Q(('on_hand__isnull', True), ('on_hand__lte', 1000000000), _connector='OR'), name='stock_level_on_hand_at_most', violation_error_message='on_hand must be at most 1000000000.'), models.CheckConstraint(condition=models.Q(('is_closed', False), ('on_hand', 0), _connector='OR'), name='closed_stock_level_is_empty', violation_error_message='This number is merged into another one: book under that one.'), models.CheckConstraint(condition=models.Q(('condition__in', ['new', 'used_serviceable', 'on_hold'])), name='stock_level_condition_known_word', violation_error_message='condition must be one of new, used_serviceable, on_hold.')],
                    'indexes': [models.Index(fields=['on_hand', 'id'], name='stock_by_on_hand'), models.Index(fields=['last_counted_at', 'id'], name='stock_by_last_counted_at'), models.Index(fields=['updated_at', 'id'], name='stock_by_updated_at'), models.Index(fields=['condition'], name='stock_of_condition'), models.Index(fields=['reserved'], name='stock_of_reserved'), models.Index(inventory.models.stock.FreeQuantity('condition', 'on_hand', 'reserved'), models.F('id'), name='stock_by_free')],
                },
            ),
            migrations.CreateModel(
                name='StockPiece',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('level', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pieces', to='inventory.stocklevel')),
                    ('links', models.PositiveIntegerField(help_text='Links left in this piece; 0 if used up.')),
                    ('label', models.CharField(blank=True, max_length=40)),
                ],
                options={
                    'ordering': ['level_id', '-links', 'id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('links__gte', 0)), name='piece_links_not_negative', violation_error_message='The piece is not that long.'), models.CheckConstraint(condition=models.Q(('links__isnull', True), ('links__lte', 1000000000), _connector='OR'), name='piece_links_at_most', violation_error_message='links must be at most 1000000000.')],
                },
            ),
            migrations.CreateModel(
                name='Storeroom',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('code', models.SlugField(max_length=20, unique=True)),
                    ('name', models.CharField(max_length=80)),
                    ('site', models.CharField(blank=True, max_length=40)),
                    ('timezone', models.CharField(default='UTC', max_length=40, validators=[inventory.models.fields.known_timezone])),
                    ('machine_shop', models.ForeignKey(blank=True, help_text='The shop that machines parts from here.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='storerooms', to='inventory.machineshop')),
                    ('pick_minutes', models.PositiveIntegerField(default=10, help_text='Minutes from the request until the part is on the counter.')),
                    ('call_out_minutes', models.PositiveIntegerField(blank=True, help_text='Minutes until someone is there outside opening hours; empty: no call-out.', null=True)),
                ],
                options={
                    'ordering': ['code'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('pick_minutes__isnull', True), models.Q(('pick_minutes__gte', 0), ('pick_minutes__lte', 10080)), _connector='OR'), name='storeroom_pick_minutes_within_bounds', violation_error_message='pick_minutes must be from 0 to 10080.'), models.CheckConstraint(condition=models.Q(('call_out_minutes__isnull', True), models.Q(('call_out_minutes__gte', 0), ('call_out_minutes__lte', 10080)), _connector='OR'), name='storeroom_call_out_minutes_within_bounds', violation_error_message='call_out_minutes must be from 0 to 10080.')],
                },
            ),
            migrations.CreateModel(
                name='StockPolicy',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('stocked', models.BooleanField(default=True)),
                    ('reorder_point', models.IntegerField(help_text='-1: ordered only when needed.')),
                    ('order_up_to', models.IntegerField()),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='policies', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='policies', to='inventory.storeroom')),
                    ('reason', models.CharField(blank=True, max_length=300)),
                    ('review_on', models.DateField(blank=True, null=True)),
                    ('set_by_name', models.CharField(blank=True, max_length=150)),
                ],
                options={
                    'verbose_name_plural': 'stock policies',
                    'ordering': ['item_id', 'storeroom_id'],
                    'constraints': [models.UniqueConstraint(fields=('item', 'storeroom'), name='stock_policy_once_per_place', violation_error_message='This item has a policy in that storeroom: change that one.'), models.CheckConstraint(condition=models.Q(('order_up_to__gt', models.F('reorder_point')), ('order_up_to__gte', 0), ('reorder_point__gte', -1)), name='stock_policy_order_up_to_above_reorder_point', violation_error_message='order_up_to must be above reorder_point, and reorder_point -1 or more.'), models.CheckConstraint(condition=models.Q(('order_up_to__isnull', True), ('order_up_to__lte', 1000000), _connector='OR'), name='stock_policy_order_up_to_at_most', violation_error_message='order_up_to must be at most 1000000.'), models.CheckConstraint(condition=models.Q(models.Q(('reorder_point__gte', 0), ('stocked', True)), models.Q(('order_up_to', 0), ('reorder_point', -1), ('stocked', False)), _connector='OR'), name='stock_policy_not_stocked_means_none', violation_error_message='Not stocked means reorder_point -1 and order_up_to 0; stocked means reorder_point 0 or more.')],
                    'indexes': [inventory.models.text_index.TextIndex(fields=['reason', 'set_by_name'], name='stock_policy_text')],
                },
            ),
            migrations.CreateModel(
                name='StockEntry',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(choices=[('receipt', 'receipt'), ('issue', 'issue'), ('return', 'return'), ('transfer', 'transfer'), ('count', 'count'), ('scrap', 'scrap')], max_length=10)),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='entries', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='entries', to='inventory.storeroom')),
                    ('condition', models.CharField(choices=[('new', 'new'), ('used_serviceable', 'used, serviceable'), ('on_hold', 'on hold')], default='new', max_length=20)),
                    ('piece', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='entries', to='inventory.stockpiece')),
                    ('change', models.IntegerField(help_text='Change of stock: positive in, negative out.')),
                    ('balance_after', models.PositiveIntegerField()),
                    ('counted', models.PositiveIntegerField(blank=True, help_text='Of a count: the counted quantity.', null=True)),
                    ('transfer', models.UUIDField(blank=True, help_text='Shared by the two legs of a transfer, or by the return and the scrap of a worn part.', null=True)),
                    ('other_storeroom', models.ForeignKey(blank=True, help_text='The other end of a transfer.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.storeroom')),
                    ('work_order', models.CharField(blank=True, max_length=60)),
                    ('position', models.CharField(blank=True, help_text='Tag of the position that it was issued for.', max_length=60)),
                    ('reason', models.CharField(blank=True, max_length=200)),
                    ('reference', models.CharField(blank=True, help_text="The sender's number of this movement; a repeated number is booked once.", max_length=80)),
                    ('reason_code', models.CharField(blank=True, choices=[('not_needed', 'not needed'), ('worn', 'worn, leaves the books'), ('did_not_fit', 'did not fit'), ('wrong_item', 'wrong item'), ('defective', 'defective'), ('surplus', 'surplus'), ('found', 'found'), ('not_there', 'not there'), ('written_off', 'written off')], help_text='Of a return, a count or a scrap.', max_length=12)),
                    ('expected_back_on', models.DateField(blank=True, help_text='Of an issue on loan: when it is due back.', null=True)),
                    ('reverses', models.ForeignKey(blank=True, help_text='The mistaken entry that this one reverses, wholly or in part.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='reversals', to='inventory.stockentry')),
                    ('unit_cost', models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True)),
                    ('occurred_at', models.DateTimeField()),
                    ('recorded_at', models.DateTimeField(auto_now_add=True)),
                    ('recorded_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('recorded_by_name', models.CharField(blank=True, max_length=150)),
                ],
                options={
                    'verbose_name_plural': 'stock entries',
                    'ordering': ['-id'],
                    'constraints': [models.UniqueConstraint(condition=models.Q(('reference', ''), _negated=True), fields=('reference', 'storeroom'), name='movement_reference_booked_once', violation_error_message='A movement of that reference is booked already.'), models.CheckConstraint(condition=models.Q(('balance_after__gte', 0)), name='balance_after_not_negative', violation_error_message='A movement must not make the stock negative.'), models.CheckConstraint(condition=models.Q(('kind__in', ['receipt', 'issue', 'return', 'transfer', 'count', 'scrap'])), name='stock_entry_kind_known_word', violation_error_message='kind must be one of receipt, issue, return, transfer, count, scrap.'), models.CheckConstraint(condition=models.Q(('condition__in', ['new', 'used_serviceable', 'on_hold'])), name='stock_entry_condition_known_word', violation_error_message='condition must be one of new, used_serviceable, on_hold.'), models.CheckConstraint(condition=models.Q(('reason_code__in', ['not_needed', 'worn', 'did_not_fit', 'wrong_item', 'defective', 'surplus', 'found', 'not_there', 'written_off', ''])), name='stock_entry_reason_code_known_word', violation_error_message='reason_code must be one of not_needed, worn, did_not_fit, wrong_item, defective, surplus, found, not_there, written_off.'), models.CheckConstraint(condition=models.Q(('balance_after__isnull', True), ('balance_after__lte', 1000000000), _connector='OR'), name='stock_entry_balance_after_at_most', violation_error_message='balance_after must be at most 1000000000.'), models.CheckConstraint(condition=models.Q(('unit_cost__isnull', True), ('unit_cost__gte', 0), _connector='OR'), name='stock_entry_unit_cost_not_negative', violation_error_message='unit_cost must be 0 or more.'), models.CheckConstraint(condition=models.Q(('reverses__isnull', False), models.Q(('change__gt', 0), ('kind__in', ['receipt', 'return'])), models.Q(('change__lt', 0), ('kind__in', ['issue', 'scrap'])), models.Q(('kind', 'transfer'), models.Q(('change', 0), _negated=True)), ('kind', 'count'), _connector='OR'), name='stock_entry_sign_follows_kind', violation_error_message='A receipt or a return adds stock, an issue or a scrap removes it.'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'transfer'), ('other_storeroom__isnull', False), ('transfer__isnull', False)), models.Q(('kind__in', ['return', 'scrap']), ('other_storeroom__isnull', True), ('reason_code', 'worn'), ('transfer__isnull', False)), models.Q(models.Q(('kind', 'transfer'), _negated=True), ('other_storeroom__isnull', True), ('transfer__isnull', True)), _connector='OR'), name='stock_entry_transfer_has_two_ends', violation_error_message='A transfer, and only a transfer, names its other storeroom.'), models.CheckConstraint(condition=models.Q(('reverses__isnull', True), models.Q(('reverses', models.F('id')), _negated=True), _connector='OR'), name='stock_entry_does_not_reverse_itself', violation_error_message='An entry cannot reverse itself.'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'count'), _negated=True), ('counted__isnull', False), _connector='OR'), name='count_says_what_was_found', violation_error_message='A count needs the counted quantity: give counted.')],
                    'indexes': [models.Index(fields=['item', 'storeroom', 'condition', 'id'], name='stock_entry_replay'), models.Index(fields=['work_order'], name='stock_entry_work_order'), models.Index(fields=['transfer'], name='stock_entry_transfer'), models.Index(fields=['position'], name='stock_entry_position'), inventory.models.text_index.TextIndex(fields=['reason', 'work_order', 'reference', 'position'], name='stock_entry_text'), models.Index(fields=['occurred_at', 'id'], name='stock_entry_by_occurred_at'), models.Index(fields=['recorded_at', 'id'], name='stock_entry_by_recorded_at'), models.Index(fields=['kind'], name='stock_entry_of_kind'), models.Index(condition=models.Q(('reason_code__gt', '')), fields=['reason_code'], name='stock_entry_of_reason_code'), models.Index(condition=models.Q(('expected_back_on__isnull', False)), fields=['expected_back_on'], name='stock_entry_of_expected_back_o')],
                },
            ),
            migrations.CreateModel(
                name='Reservation',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reservations', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reservations', to='inventory.storeroom')),
                    ('condition', models.CharField(choices=[('new', 'new'), ('used_serviceable', 'used, serviceable'), ('on_hold', 'on hold')], default='new', max_length=20)),
                    ('quantity', models.PositiveIntegerField()),
                    ('open_quantity', models.PositiveIntegerField(help_text='Still reserved on the shelf.')),
                    ('work_order', models.CharField(max_length=60)),
                    ('state', models.CharField(choices=[('open', 'open'), ('used', 'used'), ('released', 'released'), ('expired', 'expired')], default='open', max_length=10)),
                    ('expires_at', models.DateTimeField(blank=True, null=True)),
                    ('kit', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.kit')),
                    ('short_quantity', models.PositiveIntegerField(default=0, help_text='Taken for urgent work: still needed, no longer reserved.')),
                    ('taken_by', models.CharField(blank=True, help_text='The work order that took the short quantity.', max_length=60)),
                    ('taken_reason', models.CharField(blank=True, max_length=200)),
                    ('reserved_by_name', models.CharField(blank=True, max_length=150)),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['open', 'used', 'released', 'expired'])), name='reservation_state_known_word', violation_error_message='state must be one of open, used, released, expired.'), models.CheckConstraint(condition=models.Q(('condition__in', ['new', 'used_serviceable', 'on_hold'])), name='reservation_condition_known_word', violation_error_message='condition must be one of new, used_serviceable, on_hold.'), models.CheckConstraint(condition=models.Q(('quantity__isnull', True), ('quantity__lte', 1000000000), _connector='OR'), name='reservation_quantity_at_most', violation_error_message='quantity must be at most 1000000000.'), models.CheckConstraint(condition=models.Q(('open_quantity__gte', 0)), name='reservation_open_quantity_not_negative', violation_error_message='open_quantity must be 0 or more.'), models.CheckConstraint(condition=models.Q(models.Q(('open_quantity__gt', 0), ('state', 'open')), models.Q(models.Q(('state', 'open'), _negated=True), ('open_quantity', 0)), _connector='OR'), name='reservation_holds_back_only_while_open', violation_error_message='An open reservation has an open quantity, an ended one has none.'), models.CheckConstraint(condition=models.Q(('work_order', ''), _negated=True), name='reservation_says_for_what', violation_error_message='Give the work order of the reservation.'), models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='reservation_quantity_positive', violation_error_message='quantity must be at least 1.'), models.CheckConstraint(condition=models.Q(('open_quantity__lte', models.F('quantity'))), name='reservation_open_not_above_quantity', violation_error_message='open_quantity must not exceed quantity.')],
                    'indexes': [models.Index(condition=models.Q(('state', 'open')), fields=['item', 'storeroom', 'condition'], name='reservation_open_of_level'), models.Index(condition=models.Q(('state', 'open')), fields=['expires_at'], name='reservation_open_expiry'), models.Index(fields=['work_order'], name='reservation_work_order'), inventory.models.text_index.TextIndex(fields=['work_order', 'reserved_by_name'], name='reservation_text')],
                },
            ),
            migrations.CreateModel(
                name='Recommendation',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('stocked', models.BooleanField(default=True)),
                    ('reorder_point', models.IntegerField(help_text='-1: ordered only when needed.')),
                    ('order_up_to', models.IntegerField()),
                    ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recommendations', to='inventory.stockingrun')),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recommendations', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recommendations', to='inventory.storeroom')),
                    ('state', models.CharField(choices=[('open', 'open'), ('accepted', 'accepted'), ('amended', 'amended'), ('declined', 'declined'), ('superseded', 'superseded')], default='open', max_length=10)),
                    ('changed', models.BooleanField(default=True, help_text='It differs from the policy in force.')),
                    ('is_answered', models.BooleanField(default=True, help_text='False: data is missing; the explanation says which.')),
                    ('review_after_days', models.PositiveSmallIntegerField(default=365, help_text='Days from the decision to its review.')),
                    ('importance', models.CharField(choices=[('vital', 'vital'), ('essential', 'essential'), ('desirable', 'desirable'), ('unknown', 'not known')], default='unknown', max_length=10)),
                    ('model', models.CharField(help_text='Demand model.', max_length=20)),
                    ('target_kind', models.CharField(choices=[('fill_rate', 'fill rate'), ('cycle_service_level', 'cycle service level'), ('no_backorder', 'no backorder'), ('cost', 'least cost')], max_length=20)),
                    ('target_value', models.FloatField(blank=True, null=True)),
                    ('rate_per_year', models.FloatField(help_text='Unplanned demand a year, in pieces.')),
                    ('planned_per_year', models.FloatField(default=0, help_text='Planned demand a year, in pieces.')),
                    ('lead_time_days', models.FloatField(blank=True, null=True)),
                    ('lead_time_sd_days', models.FloatField(blank=True, null=True)),
                    ('expected_lead_time_demand', models.FloatField(blank=True, null=True)),
                    ('fill_rate', models.FloatField(blank=True, null=True)),
                    ('expected_stockouts_per_year', models.FloatField(blank=True, null=True)),
                    ('holding_cost_per_year', models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True)),
                    ('currency', models.CharField(default='EUR', help_text='ISO 4217 code.', max_length=3, validators=[django.core.validators.RegexValidator('^[A-Z]{3}\\Z', 'Give the currency as three capitals, such as EUR.')])),
                    ('today', models.JSONField(blank=True, default=dict, help_text='The same figures for the policy in force; empty if there is none.')),
                    ('explanation', models.JSONField(blank=True, default=list, help_text='Its reasons as facts, in order: code and values of each.')),
                    ('evidence', models.JSONField(blank=True, default=dict, help_text='Events, lives, pool, lead times and cover that it is based on.')),
                    ('since_last', models.JSONField(blank=True, default=list, help_text='What changed since the last one, as facts.')),
                    ('inputs_hash', models.CharField(max_length=64)),
                    ('decided_by_name', models.CharField(blank=True, max_length=150)),
                    ('decided_at', models.DateTimeField(blank=True, null=True)),
                    ('decision_reason', models.CharField(blank=True, max_length=300)),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.UniqueConstraint(condition=models.Q(('state', 'superseded'), _negated=True), fields=('item', 'storeroom'), name='one_current_recommendation', violation_error_message='This item has a current recommendation in that storeroom.'), models.CheckConstraint(condition=models.Q(('order_up_to__gt', models.F('reorder_point')), ('order_up_to__gte', 0), ('reorder_point__gte', -1)), name='recommendation_order_up_to_above_reorder_point', violation_error_message='order_up_to must be above reorder_point, and reorder_point -1 or more.'), models.CheckConstraint(condition=models.Q(('order_up_to__isnull', True), ('order_up_to__lte', 1000000), _connector='OR'), name='recommendation_order_up_to_at_most', violation_error_message='order_up_to must be at most 1000000.'), models.CheckConstraint(condition=models.Q(models.Q(('reorder_point__gte', 0), ('stocked', True)), models.Q(('order_up_to', 0), ('reorder_point', -1), ('stocked', False)), _connector='OR'), name='recommendation_not_stocked_means_none', violation_error_message='Not stocked means reorder_point -1 and order_up_to 0; stocked means reorder_point 0 or more.'), models.CheckConstraint(condition=models.Q(('state__in', ['open', 'accepted', 'amended', 'declined', 'superseded'])), name='recommendation_state_known_word', violation_error_message='state must be one of open, accepted, amended, declined, superseded.'), models.CheckConstraint(condition=models.Q(('importance__in', ['vital', 'essential', 'desirable', 'unknown'])), name='recommendation_importance_known_word', violation_error_message='importance must be one of vital, essential, desirable, unknown.'), models.CheckConstraint(condition=models.Q(('target_kind__in', ['fill_rate', 'cycle_service_level', 'no_backorder', 'cost'])), name='recommendation_target_kind_known_word', violation_error_message='target_kind must be one of fill_rate, cycle_service_level, no_backorder, cost.'), models.CheckConstraint(condition=models.Q(models.Q(('state__in', ['amended', 'declined']), _negated=True), models.Q(('decision_reason', ''), _negated=True), _connector='OR'), name='amending_or_declining_says_why', violation_error_message='Amending or declining needs a reason.')],
                    'indexes': [models.Index(fields=['item', 'storeroom', 'state'], name='recommendation_of_item'), models.Index(fields=['state', 'changed'], name='recommendation_waiting'), models.Index(fields=['rate_per_year', 'id'], name='recommended_by_rate_per_year'), models.Index(fields=['expected_stockouts_per_year', 'id'], name='recommended_by_expected_stocko'), models.Index(fields=['holding_cost_per_year', 'id'], name='recommended_by_holding_cost_pe'), models.Index(fields=['created_at', 'id'], name='recommended_by_created_at'), models.Index(fields=['decided_at', 'id'], name='recommended_by_decided_at')],
                },
            ),
            migrations.CreateModel(
                name='OpeningHours',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('storeroom', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='hours', to='inventory.storeroom')),
                    ('machine_shop', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='hours', to='inventory.machineshop')),
                    ('weekday', models.PositiveSmallIntegerField(choices=[(0, 'Monday'), (1, 'Tuesday'), (2, 'Wednesday'), (3, 'Thursday'), (4, 'Friday'), (5, 'Saturday'), (6, 'Sunday')])),
                    ('opens', models.TimeField()),
                    ('closes', models.TimeField(help_text='00:00 is the end of the day.')),
                ],
                options={
                    'verbose_name_plural': 'opening hours',
                    'ordering': ['weekday', 'opens'],
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('machine_shop__isnull', True), ('storeroom__isnull', False)), models.Q(('machine_shop__isnull', False), ('storeroom__isnull', True)), _connector='OR'), name='opening_hours_of_one_place', violation_error_message='Opening hours belong to a storeroom or to a machine shop, not to both.'), models.CheckConstraint(condition=models.Q(('weekday__lte', 6)), name='opening_hours_weekday_known', violation_error_message='weekday must be 0 (Monday) to 6 (Sunday).'), models.CheckConstraint(condition=models.Q(('closes__gt', models.F('opens')), ('closes', datetime.time(0, 0)), _connector='OR'), name='opening_hours_close_after_opening', violation_error_message='closes must be after opens: enter a night shift as two weekdays.')],
                },
            ),
            migrations.CreateModel(
                name='MergeLine',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('merge', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.merge')),
                    ('step', models.CharField(choices=[('stock', 'stock'), ('reservation', 'reservation'), ('policy', 'stock policy'), ('supply_order', 'supply order'), ('requests', 'requests'), ('recommendation', 'recommendation'), ('count', 'count'), ('item', 'item')], max_length=14)),
                    ('storeroom', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='merge_lines', to='inventory.storeroom')),
                    ('condition', models.CharField(blank=True, max_length=20)),
                    ('quantity', models.PositiveIntegerField(default=0)),
                    ('record_id', models.BigIntegerField(blank=True, help_text='The record that was changed.', null=True)),
                    ('transfer', models.UUIDField(blank=True, help_text='Of stock: the pair of movements that moved it.', null=True)),
                    ('before', models.JSONField(blank=True, default=dict)),
                    ('after', models.JSONField(blank=True, default=dict)),
                ],
                options={
                    'ordering': ['merge_id', 'id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('step__in', ['stock', 'reservation', 'policy', 'supply_order', 'requests', 'recommendation', 'count', 'item'])), name='merge_line_step_known_word', violation_error_message='step must be one of stock, reservation, policy, supply_order, requests, recommendation, count, item.')],
                },
            ),
            migrations.CreateModel(
                name='FitQuestion',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='fit_questions', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='fit_questions', to='inventory.storeroom')),
                    ('entry', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='fit_question', to='inventory.stockentry')),
                    ('issue', models.ForeignKey(blank=True, help_text='The issue of the part, as far as the return tells which.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='misfits', to='inventory.stockentry')),
                    ('position', models.CharField(blank=True, max_length=60)),
                    ('work_order', models.CharField(blank=True, max_length=60)),
                    ('aspect', models.CharField(blank=True, help_text='What is doubted, as the verdict calls it; empty: not known.', max_length=20)),
                    ('measure', models.CharField(blank=True, help_text='A sentence, for questions from before measure_fact.', max_length=300)),
                    ('measure_fact', models.JSONField(blank=True, default=dict, help_text='Code and values of the measurement that would settle it.')),
                    ('verdict', models.JSONField(blank=True, default=dict, help_text='The verdict of the records on this part at this position.')),
                    ('answer', models.CharField(blank=True, max_length=300)),
                    ('answered_at', models.DateTimeField(blank=True, null=True)),
                    ('answered_by_name', models.CharField(blank=True, max_length=150)),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('answered_at__isnull', True), models.Q(('answer', ''), _negated=True), _connector='OR'), name='fit_question_answer_said', violation_error_message='Say what was found: give answer.')],
                    'indexes': [models.Index(condition=models.Q(('answered_at__isnull', True)), fields=['item'], name='fit_question_open'), inventory.models.text_index.TextIndex(fields=['position', 'work_order', 'measure', 'answer'], name='fit_question_text')],
                },
            ),
            migrations.CreateModel(
                name='DuplicateShelf',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('group', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='shelves', to='inventory.duplicategroup')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='duplicate_shelves', to='inventory.storeroom')),
                    ('pieces_together', models.PositiveIntegerField(help_text='To keep of all numbers as one.')),
                    ('numbers', models.JSONField(blank=True, default=list)),
                ],
                options={
                    'verbose_name_plural': 'duplicate shelves',
                    'ordering': ['group_id', 'storeroom_id'],
                },
            ),
            migrations.CreateModel(
                name='CountTask',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='count_tasks', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='count_tasks', to='inventory.storeroom')),
                    ('condition', models.CharField(choices=[('new', 'new'), ('used_serviceable', 'used, serviceable'), ('on_hold', 'on hold')], default='new', max_length=20)),
                    ('cause', models.CharField(choices=[('value', 'costly if wrong'), ('zero', 'book shows none'), ('found', 'found, not in the book'), ('not_there', 'in the book, not found'), ('asked', 'requested by a person')], max_length=10)),
                    ('due_on', models.DateField()),
                    ('worth', models.FloatField(default=0, help_text='Expected cost of a wrong record; the highest is counted first.')),
                    ('state', models.CharField(choices=[('open', 'open'), ('counted', 'counted'), ('dropped', 'dropped')], default='open', max_length=10)),
                    ('assigned_to', models.CharField(blank=True, max_length=150)),
                    ('booked', models.PositiveIntegerField(blank=True, null=True)),
                    ('counted', models.PositiveIntegerField(blank=True, null=True)),
                    ('counted_at', models.DateTimeField(blank=True, null=True)),
                    ('measured', models.JSONField(blank=True, default=dict, help_text='Attributes that were measured at the count and written, each with its value and basis.')),
                    ('counted_by_name', models.CharField(blank=True, max_length=150)),
                    ('entry', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='count_task', to='inventory.stockentry')),
                    ('note', models.CharField(blank=True, max_length=200)),
                ],
                options={
                    'ordering': ['due_on', '-worth', 'id'],
                    'constraints': [models.CheckConstraint(condition=models.Q(('condition__in', ['new', 'used_serviceable', 'on_hold'])), name='count_task_condition_known_word', violation_error_message='condition must be one of new, used_serviceable, on_hold.'), models.CheckConstraint(condition=models.Q(('cause__in', ['value', 'zero', 'found', 'not_there', 'asked'])), name='count_task_cause_known_word', violation_error_message='cause must be one of value, zero, found, not_there, asked.'), models.CheckConstraint(condition=models.Q(('state__in', ['open', 'counted', 'dropped'])), name='count_task_state_known_word', violation_error_message='state must be one of open, counted, dropped.'), models.CheckConstraint(condition=models.Q(('counted__isnull', True), ('counted__lte', 1000000000), _connector='OR'), name='count_task_counted_at_most', violation_error_message='counted must be at most 1000000000.'), models.UniqueConstraint(condition=models.Q(('state', 'open')), fields=('item', 'storeroom', 'condition'), name='one_open_count_per_shelf', violation_error_message='This shelf is on the count list already.'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'counted'), _negated=True), models.Q(('booked__isnull', False), ('counted__isnull', False)), _connector='OR'), name='counted_task_says_what_was_found', violation_error_message='A finished count needs the counted and the booked quantity.')],
                    'indexes': [inventory.models.text_index.TextIndex(fields=['note'], name='count_task_text')],
                },
            ),
            migrations.CreateModel(
                name='SupplyOrder',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('source', models.CharField(max_length=40)),
                    ('external_id', models.CharField(max_length=60)),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='supply_orders', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='supply_orders', to='inventory.storeroom')),
                    ('supplier', models.CharField(blank=True, help_text='Name or number; empty: not known.', max_length=80)),
                    ('quantity', models.PositiveIntegerField()),
                    ('received_quantity', models.PositiveIntegerField(default=0)),
                    ('ordered_at', models.DateTimeField()),
                    ('promised_on', models.DateField(blank=True, null=True)),
                    ('received_at', models.DateTimeField(blank=True, help_text='When the last piece was on the shelf.', null=True)),
                    ('emergency', models.BooleanField(default=False)),
                    ('unit_price', models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True)),
                    ('currency', models.CharField(default='EUR', help_text='ISO 4217 code.', max_length=3, validators=[django.core.validators.RegexValidator('^[A-Z]{3}\\Z', 'Give the currency as three capitals, such as EUR.')])),
                    ('status', models.CharField(choices=[('open', 'open'), ('received', 'received'), ('cancelled', 'cancelled')], default='open', max_length=10)),
                    ('source_updated_at', models.DateTimeField(blank=True, help_text="The sender's version: an older message changes nothing.", null=True)),
                ],
                options={
                    'ordering': ['-ordered_at', '-id'],
                    'constraints': [models.UniqueConstraint(fields=('source', 'external_id'), name='supply_order_known_once', violation_error_message='This source already has an order of that number.'), models.CheckConstraint(condition=models.Q(models.Q(('source', ''), _negated=True), models.Q(('external_id', ''), _negated=True)), name='supply_order_named', violation_error_message='source and external_id must not be empty.'), models.CheckConstraint(condition=models.Q(('quantity__gte', 1)), name='supply_order_quantity_positive', violation_error_message='quantity must be 1 or more.'), models.CheckConstraint(condition=models.Q(('quantity__isnull', True), ('quantity__lte', 1000000000), _connector='OR'), name='supply_order_quantity_at_most', violation_error_message='quantity must be at most 1000000000.'), models.CheckConstraint(condition=models.Q(('received_quantity__isnull', True), ('received_quantity__lte', 1000000000), _connector='OR'), name='supply_order_received_quantity_at_most', violation_error_message='received_quantity must be at most 1000000000.'), models.CheckConstraint(condition=models.Q(('unit_price__isnull', True), ('unit_price__gte', 0), _connector='OR'), name='supply_order_unit_price_not_negative', violation_error_message='unit_price must be 0 or more.'), models.CheckConstraint(condition=models.Q(('status__in', ['open', 'received', 'cancelled'])), name='supply_order_status_known_word', violation_error_message='status must be one of open, received, cancelled.'), models.CheckConstraint(condition=models.Q(('received_at__isnull', True), ('received_at__gte', models.F('ordered_at')), _connector='OR'), name='supply_order_received_not_before_ordered', violation_error_message='received_at must not be before ordered_at.')],
                    'indexes': [models.Index(fields=['item', 'storeroom', 'status'], name='supply_order_of_item'), models.Index(fields=['item', 'received_at'], name='supply_order_lead_time'), models.Index(fields=['ordered_at', 'id'], name='supply_order_by_ordered_at'), models.Index(fields=['received_at', 'id'], name='supply_order_by_received_at'), models.Index(fields=['promised_on', 'id'], name='supply_order_by_promised_on'), models.Index(fields=['quantity', 'id'], name='supply_order_by_quantity'), models.Index(fields=['source_updated_at', 'id'], name='supply_order_by_source_updated'), models.Index(condition=models.Q(('supplier__gt', '')), fields=['supplier'], name='supply_order_of_supplier'), inventory.models.text_index.TextIndex(fields=['external_id', 'supplier'], name='supply_order_text')],
                },
            ),
            migrations.CreateModel(
                name='DeliveryCheck',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='checks', to='inventory.supplyorder')),
                    ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='delivery_checks', to='inventory.item')),
                    ('storeroom', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='delivery_checks', to='inventory.storeroom')),
                    ('reference', models.CharField(blank=True, help_text="The sender's number of this delivery; a repeated number is recorded once.", max_length=80)),
                    ('quantity', models.PositiveIntegerField()),
                    ('held_quantity', models.PositiveIntegerField(default=0)),
                    ('received_quantity', models.PositiveIntegerField(default=0)),
                    ('sent_back_quantity', models.PositiveIntegerField(default=0)),
                    ('outcome', models.CharField(choices=[('passes', 'passes'), ('something_else', 'something else'), ('doubtful', 'doubtful')], max_length=20)),
                    ('ordered', models.JSONField(blank=True, default=dict, help_text='Teeth and bore as ordered; empty: the item has none on record.')),
                    ('delivered', models.JSONField(blank=True, default=dict, help_text='What was counted and measured.')),
                    ('wrong', models.CharField(blank=True, help_text='What else is wrong with it, in the words of whoever checked it.', max_length=200)),
                    ('could_be', models.JSONField(blank=True, default=list, help_text='Chains of the rims that it may be.')),
                    ('reasons', models.JSONField(blank=True, default=list, help_text='Codes and values of the verdict.')),
                    ('checked_at', models.DateTimeField()),
                    ('checked_by_name', models.CharField(max_length=150)),
                    ('settled_at', models.DateTimeField(blank=True, null=True)),
                    ('settled_by_name', models.CharField(blank=True, max_length=150)),
                    ('settled_reason', models.CharField(blank=True, max_length=200)),
                    ('movements', models.ManyToManyField(blank=True, db_constraint=False, related_name='delivery_checks', to='inventory.stockentry')),
                ],
                options={
                    'ordering': ['-id'],
                    'constraints': [models.UniqueConstraint(condition=models.Q(('reference', ''), _negated=True), fields=('reference',), name='delivery_check_recorded_once', violation_error_message='A delivery of that reference is recorded already.'), models.CheckConstraint(condition=models.Q(('quantity__gte', 1)), name='delivery_check_quantity_positive', violation_error_message='quantity must be 1 or more.'), models.CheckConstraint(condition=models.Q(('quantity__isnull', True), ('quantity__lte', 1000000000), _connector='OR'), name='delivery_check_quantity_at_most', violation_error_message='quantity must be at most 1000000000.'), models.CheckConstraint(condition=models.Q(('quantity', django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(models.F('held_quantity'), '+', models.F('received_quantity')), '+', models.F('sent_back_quantity')))), name='delivery_check_adds_up', violation_error_message='Held, received and sent back must add up to the quantity.'), models.CheckConstraint(condition=models.Q(models.Q(('outcome', 'passes'), _negated=True), ('held_quantity', 0), _connector='OR'), name='delivery_that_passes_is_not_held', violation_error_message='What passes is not held.'), models.CheckConstraint(condition=models.Q(('outcome__in', ['passes', 'something_else', 'doubtful'])), name='delivery_check_outcome_known_word', violation_error_message='outcome must be one of passes, something_else, doubtful.')],
                    'indexes': [models.Index(fields=['checked_at', 'id'], name='delivery_check_by_checked_at'), models.Index(fields=['quantity', 'id'], name='delivery_check_by_quantity'), models.Index(fields=['settled_at', 'id'], name='delivery_check_by_settled_at'), models.Index(fields=['outcome'], name='delivery_check_of_outcome'), models.Index(condition=models.Q(('held_quantity__gt', 0)), fields=['storeroom'], name='delivery_check_held'), inventory.models.text_index.TextIndex(fields=['reference', 'wrong'], name='delivery_check_text')],
                },
            ),
            migrations.CreateModel(
                name='TransferTime',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('created_at', models.DateTimeField(auto_now_add=True)),
                    ('updated_at', models.DateTimeField(auto_now=True)),
                    ('from_storeroom', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='transfers_out', to='inventory.storeroom')),
                    ('to_storeroom', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='transfers_in', to='inventory.storeroom')),
                    ('minutes', models.PositiveIntegerField()),
                ],
                options={
                    'ordering': ['from_storeroom_id', 'to_storeroom_id'],
                    'constraints': [models.UniqueConstraint(fields=('from_storeroom', 'to_storeroom'), name='transfer_time_once_per_way', violation_error_message='This transfer time is recorded already: change that row.'), models.CheckConstraint(condition=models.Q(('from_storeroom', models.F('to_storeroom')), _negated=True), name='transfer_time_between_two_places', violation_error_message='A transfer needs two different storerooms.'), models.CheckConstraint(condition=models.Q(('minutes__isnull', True), models.Q(('minutes__gte', 0), ('minutes__lte', 10080)), _connector='OR'), name='transfer_time_minutes_within_bounds', violation_error_message='minutes must be from 0 to 10080.')],
                    'indexes': [models.Index(fields=['to_storeroom', 'from_storeroom'], name='transfer_time_to'), models.Index(fields=['minutes', 'id'], name='transfer_time_by_minutes')],
                },
            ),
        ]),
        migrations.RunPython(run(HOLD_KEYS), run(LET_KEYS_GO)),
    ]
