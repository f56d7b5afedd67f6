"""People who left and names that were erased; an audit row's detail may give way to its digest, once.

The rows' guards step aside for nothing here: they are replaced by ones that let that single change pass.
Hires kept who made the last check and who released the last work by name; from now on they keep their numbers.
"""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# Every column but `detail` as it was; `detail` was none before and is {"erased": "<64 hex digits>"} now.
SQLITE_KEEP = """
CREATE TRIGGER fleet_auditentry_no_UPDATE BEFORE UPDATE ON fleet_auditentry
WHEN NOT (
    NEW.id = OLD.id AND NEW.at IS OLD.at AND NEW.person_id IS OLD.person_id AND NEW.verb IS OLD.verb
    AND NEW.subject_kind IS OLD.subject_kind AND NEW.subject_id IS OLD.subject_id AND NEW.bow_id IS OLD.bow_id
    AND NEW.salt IS OLD.salt AND NEW.digest IS OLD.digest
    AND length(NEW.detail) = 78 AND substr(NEW.detail, 1, 12) = '{"erased": "' AND substr(NEW.detail, 77) = '"}'
    AND substr(NEW.detail, 13, 64) NOT GLOB '*[^0-9a-f]*'
    AND substr(OLD.detail, 1, 12) <> '{"erased": "')
BEGIN SELECT RAISE(ABORT, 'audit rows are never changed'); END
"""
SQLITE_KEEP_BEFORE = """
CREATE TRIGGER fleet_auditentry_no_UPDATE BEFORE UPDATE ON fleet_auditentry
BEGIN SELECT RAISE(ABORT, 'audit rows are never changed'); END
"""
POSTGRES_KEEP = """
CREATE OR REPLACE FUNCTION fleet_auditentry_keep() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN
    IF TG_OP = 'UPDATE' THEN
        IF to_jsonb(NEW) - 'detail' = to_jsonb(OLD) - 'detail'
            AND NEW.detail::text ~ '^\\{"erased": "[0-9a-f]{64}"\\}$' AND NOT OLD.detail ? 'erased'
        THEN RETURN NEW; END IF;
    END IF;
    RAISE EXCEPTION 'audit rows are never changed' USING ERRCODE = 'integrity_constraint_violation';
END $$;
"""
POSTGRES_KEEP_BEFORE = """
CREATE OR REPLACE FUNCTION fleet_auditentry_keep() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'audit rows are never changed' USING ERRCODE = 'integrity_constraint_violation'; END $$;
"""


def allow_blanking(apps, schema_editor):
    replace_guard(schema_editor, SQLITE_KEEP, POSTGRES_KEEP)


def forbid_blanking(apps, schema_editor):
    replace_guard(schema_editor, SQLITE_KEEP_BEFORE, POSTGRES_KEEP_BEFORE)


def replace_guard(schema_editor, sqlite, postgres):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(postgres)
        return
    schema_editor.execute("DROP TRIGGER IF EXISTS fleet_auditentry_no_UPDATE")
    schema_editor.execute(sqlite)


def number_people(apps, schema_editor):
    """In what was known when a bow went out: people by number, found again by the check and by the order."""
    alias = schema_editor.connection.alias
    checks = apps.get_model("fleet", "TurnaroundCheck").objects.using(alias)
    results = apps.get_model("fleet", "SignedResult").objects.using(alias)
    hires = apps.get_model("fleet", "Hire").objects.using(alias)
    for hire in hires.exclude(known_at_hand_out={}).iterator(chunk_size=500):
        known = hire.known_at_hand_out
        check, bench = known.get("last_check"), known.get("last_bench")
        if check and "by" in check:
            check["by"] = checks.filter(key=check["key"]).values_list("by_id", flat=True).first()
        if bench and "released_by" in bench:
            released = results.filter(order_number=bench["order"]).values_list("released_by_id", flat=True)
            bench["released_by"] = released.first()
        hires.filter(pk=hire.pk).update(known_at_hand_out=known)


class Migration(migrations.Migration):
    dependencies = [("fleet", "0011_language_of_a_persons_pages")]
    operations = [
        migrations.AddField("site", "signed_name_days", models.PositiveSmallIntegerField(default=1826)),
        migrations.CreateModel(
            name="Erasure",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(choices=[("person", "person"), ("guest", "guest")], max_length=6)),
                ("number", models.BigIntegerField()),
                ("since", models.DateTimeField(blank=True, null=True)),
                ("on", models.DateField()),
            ],
            options={
                "ordering": ["id"],
                "indexes": [models.Index(fields=["kind", "number"], name="erasure_of")],
            },
        ),
        migrations.CreateModel(
            name="Departure",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("left_at", models.DateTimeField()),
                ("erase_on", models.DateField()),
                (
                    "closed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="departure",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.RunPython(allow_blanking, forbid_blanking),
        migrations.RunPython(number_people, migrations.RunPython.noop),
    ]
