"""Chain the audit rows: each gets a salt and a digest over the row before it; the rows that are there are sealed.

Before they are sealed, people's names, addresses and user names are taken out of their details for good: a chain over
them would keep them for ever. The rows' guards step aside for that alone. They come back stricter: PostgreSQL refuses
TRUNCATE as well, and the chain's head only grows.
"""

import hashlib
import hmac
import json
import secrets
from datetime import timezone

from django.db import migrations, models

BEGINNING = "0" * 64
FIELDS = ("at", "person_id", "verb", "subject_kind", "subject_id", "bow_id", "detail")
BATCH = 2_000

SQLITE_KEEP = """
CREATE TRIGGER fleet_auditentry_no_{event} BEFORE {event} ON fleet_auditentry
BEGIN SELECT RAISE(ABORT, 'audit rows are never changed'); END
"""
SQLITE_HEAD = (
    """
CREATE TRIGGER fleet_audithead_grows BEFORE UPDATE ON fleet_audithead WHEN NEW.length <= OLD.length
BEGIN SELECT RAISE(ABORT, 'the chain of audit rows only grows'); END
""",
    """
CREATE TRIGGER fleet_audithead_stays BEFORE DELETE ON fleet_audithead WHEN OLD.length > 0
BEGIN SELECT RAISE(ABORT, 'the chain of audit rows only grows'); END
""",
)
POSTGRES_KEEP = """
CREATE TRIGGER fleet_auditentry_keep BEFORE UPDATE OR DELETE ON fleet_auditentry
FOR EACH ROW EXECUTE FUNCTION fleet_auditentry_keep()
"""
# An empty table may be truncated: that loses nothing, and a restore into an empty book does it.
POSTGRES_KEEP_ALL = """
CREATE FUNCTION fleet_auditentry_keep_all() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN
    IF EXISTS (SELECT FROM fleet_auditentry) THEN
        RAISE EXCEPTION 'audit rows are never changed' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER fleet_auditentry_keep_all BEFORE TRUNCATE ON fleet_auditentry
FOR EACH STATEMENT EXECUTE FUNCTION fleet_auditentry_keep_all();
"""
POSTGRES_HEAD = """
CREATE FUNCTION fleet_audithead_keep() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN
    IF TG_OP = 'UPDATE' THEN
        IF NEW.length > OLD.length THEN RETURN NEW; END IF;
    ELSIF TG_OP = 'DELETE' THEN
        IF OLD.length = 0 THEN RETURN OLD; END IF;
    ELSIF NOT EXISTS (SELECT FROM fleet_audithead WHERE length > 0) THEN
        RETURN NULL;
    END IF;
    RAISE EXCEPTION 'the chain of audit rows only grows' USING ERRCODE = 'integrity_constraint_violation';
END $$;
CREATE TRIGGER fleet_audithead_keep BEFORE UPDATE OR DELETE ON fleet_audithead
FOR EACH ROW EXECUTE FUNCTION fleet_audithead_keep();
CREATE TRIGGER fleet_audithead_keep_all BEFORE TRUNCATE ON fleet_audithead
FOR EACH STATEMENT EXECUTE FUNCTION fleet_audithead_keep();
"""


def let_go(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("DROP TRIGGER fleet_auditentry_keep ON fleet_auditentry")
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(f"DROP TRIGGER IF EXISTS fleet_auditentry_no_{event}")


def keep(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(POSTGRES_KEEP)
        return
    for event in ("UPDATE", "DELETE"):
        # The table may have been remade meanwhile, and its triggers gone with it.
        schema_editor.execute(f"DROP TRIGGER IF EXISTS fleet_auditentry_no_{event}")
        schema_editor.execute(SQLITE_KEEP.format(event=event))


def keep_head(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(POSTGRES_KEEP_ALL)
        schema_editor.execute(POSTGRES_HEAD)
        return
    for trigger in SQLITE_HEAD:
        schema_editor.execute(trigger)


def let_head_go(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        for table in ("auditentry", "audithead"):
            schema_editor.execute(f"DROP TRIGGER fleet_{table}_keep_all ON fleet_{table}")
        schema_editor.execute("DROP TRIGGER fleet_audithead_keep ON fleet_audithead")
        schema_editor.execute("DROP FUNCTION fleet_audithead_keep()")
        schema_editor.execute("DROP FUNCTION fleet_auditentry_keep_all()")
        return
    for trigger in ("grows", "stays"):
        schema_editor.execute(f"DROP TRIGGER fleet_audithead_{trigger}")


def seal(apps, schema_editor):
    """Take the names out, then chain the rows in the order of their numbers."""
    entries = apps.get_model("fleet", "AuditEntry").objects.using(schema_editor.connection.alias).order_by("id")
    take_names_out(apps, entries)
    sql = "UPDATE fleet_auditentry SET salt = %s, digest = %s WHERE id = %s"
    digest, length, last = BEGINNING, 0, 0
    while rows := list(entries.filter(id__gt=last).values("id", *FIELDS)[:BATCH]):
        sealed = []
        for row in rows:
            salt = secrets.token_hex(16)
            digest = digest_after(digest, salt, row)
            sealed.append((salt, digest, row["id"]))
        with schema_editor.connection.cursor() as cursor:
            cursor.executemany(sql, sealed)
        length, last = length + len(rows), rows[-1]["id"]
    apps.get_model("fleet", "AuditHead").objects.using(schema_editor.connection.alias).create(
        id=1, digest=digest, length=length
    )
    # PostgreSQL alters no table that has checks still to come.
    schema_editor.connection.check_constraints()


def take_names_out(apps, entries):
    numbers = dict(apps.get_model("fleet", "Person").objects.using(entries.db).values_list("username", "id"))
    for entry in entries.filter(verb="put_person"):
        for name in ("display_name", "email"):
            if name in entry.detail.get("changed", {}):
                entry.detail["changed"][name] = ["", "set"]
        entry.save(update_fields=["detail"])
    for entry in entries.filter(verb__in=("found_book", "name_person")):
        entry.detail.pop("username", None)
        entry.save(update_fields=["detail"])
    for entry in entries.filter(verb="note_job_moved"):
        if entry.detail.get("technician"):
            entry.detail["technician"] = numbered(numbers.get(entry.detail["technician"]))
            entry.save(update_fields=["detail"])
    for verbs, key, model, column in (
        (("make_feed", "revoke_feed"), "technician", "FeedKey", "technician_id"),
        (("add_absence",), "person", "Absence", "person_id"),
    ):
        whose = dict(apps.get_model("fleet", model).objects.using(entries.db).values_list("id", column))
        for entry in entries.filter(verb__in=verbs):
            if entry.detail.get(key):
                entry.detail[key] = numbered(whose.get(entry.subject_id))
                entry.save(update_fields=["detail"])


def numbered(number):
    return "a person" if number is None else f"person {number}"


# As fleet/chain.py was when this migration was written; a chain in the wild is walked by these rules.
def digest_after(previous, salt, values):
    chained = hashlib.sha256(bytes.fromhex(previous))
    for name in FIELDS:
        own_salt = hmac.digest(bytes.fromhex(salt), name.encode(), hashlib.sha256)
        chained.update(hmac.digest(own_salt, canonical(values[name]).encode(), hashlib.sha256))
    return chained.hexdigest()


def canonical(value):
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    if isinstance(value, (int, float)):
        as_float = float(value)
        return str(int(as_float)) if as_float.is_integer() and abs(as_float) < 2**53 else repr(as_float)
    if hasattr(value, "astimezone"):
        return value.astimezone(timezone.utc).isoformat(timespec="microseconds")
    if isinstance(value, dict):
        pairs = sorted((str(key), one) for key, one in value.items())
        return "{" + ",".join(f"{json.dumps(key)}:{canonical(one)}" for key, one in pairs) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ",".join(canonical(one) for one in value) + "]"
    return json.dumps(str(value))


class Migration(migrations.Migration):
    dependencies = [("fleet", "0009_device_tokens")]
    operations = [
        migrations.RunPython(let_go, keep),
        migrations.AddField("auditentry", "salt", models.CharField(default="", max_length=32), preserve_default=False),
        migrations.AddField("auditentry", "digest", models.CharField(default="", max_length=64), preserve_default=False),
        migrations.CreateModel(
            name="AuditHead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("digest", models.CharField(max_length=64)),
                ("length", models.PositiveBigIntegerField()),
            ],
        ),
        migrations.RunPython(seal, migrations.RunPython.noop),
        migrations.AddConstraint(
            "auditentry",
            models.CheckConstraint(
                condition=models.Q(("salt", ""), _negated=True) & models.Q(("digest", ""), _negated=True),
                name="audit_row_is_sealed",
            ),
        ),
        migrations.RunPython(keep, let_go),
        migrations.RunPython(keep_head, let_head_go),
    ]
