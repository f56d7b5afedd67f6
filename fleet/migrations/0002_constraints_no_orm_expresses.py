"""No overlapping stays or relaxations of a bow; audit rows are never changed or deleted.

PostgreSQL has exclusion constraints for the first, SQLite gets triggers that abort with the same meaning.
"""

from django.db import migrations

INTERVAL_TABLES = ("fleet_stay", "fleet_relaxation", "fleet_vehicleparking")

SQLITE_OVERLAP = """
CREATE TRIGGER {table}_no_overlap_{event} BEFORE {event} ON {table}
WHEN EXISTS (
    SELECT 1 FROM {table} AS other
    WHERE other.bow_id = NEW.bow_id AND other.id IS NOT NEW.id
      AND (other."end" IS NULL OR other."end" > NEW.start)
      AND (NEW."end" IS NULL OR other.start < NEW."end"))
BEGIN SELECT RAISE(ABORT, '{table}: overlapping intervals of one bow'); END
"""
SQLITE_KEEP = """
CREATE TRIGGER fleet_auditentry_no_{event} BEFORE {event} ON fleet_auditentry
BEGIN SELECT RAISE(ABORT, 'audit rows are never changed'); END
"""
POSTGRES_OVERLAP = """
ALTER TABLE {table} ADD CONSTRAINT {table}_no_overlap
EXCLUDE USING gist (bow_id WITH =, tstzrange(start, "end") WITH &&)
"""
POSTGRES_KEEP = """
CREATE FUNCTION fleet_auditentry_keep() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'audit rows are never changed' USING ERRCODE = 'integrity_constraint_violation'; END $$;
CREATE TRIGGER fleet_auditentry_keep BEFORE UPDATE OR DELETE ON fleet_auditentry
FOR EACH ROW EXECUTE FUNCTION fleet_auditentry_keep();
"""


def constrain(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("CREATE EXTENSION IF NOT EXISTS btree_gist")
        for table in INTERVAL_TABLES:
            schema_editor.execute(POSTGRES_OVERLAP.format(table=table))
        schema_editor.execute(POSTGRES_KEEP)
        return
    for event in ("INSERT", "UPDATE"):
        for table in INTERVAL_TABLES:
            schema_editor.execute(SQLITE_OVERLAP.format(table=table, event=event))
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(SQLITE_KEEP.format(event=event))


def relax(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        for table in INTERVAL_TABLES:
            schema_editor.execute(f"ALTER TABLE {table} DROP CONSTRAINT {table}_no_overlap")
        schema_editor.execute("DROP TRIGGER fleet_auditentry_keep ON fleet_auditentry")
        schema_editor.execute("DROP FUNCTION fleet_auditentry_keep()")
        return
    for event in ("INSERT", "UPDATE"):
        for table in INTERVAL_TABLES:
            schema_editor.execute(f"DROP TRIGGER {table}_no_overlap_{event}")
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(f"DROP TRIGGER fleet_auditentry_no_{event}")


class Migration(migrations.Migration):
    dependencies = [("fleet", "0001_register")]
    operations = [migrations.RunPython(constrain, relax)]
