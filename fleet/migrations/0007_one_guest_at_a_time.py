"""No two bookings that hold promise the very same bow at the same time.

PostgreSQL has an exclusion constraint for it, SQLite gets triggers that abort with the same meaning. A book that
already promises a bow twice is told which bookings these are, and stays as it is.
"""

from django.db import migrations

SQLITE_CLASH = """
CREATE TRIGGER fleet_booking_no_clash_{event} BEFORE {event} ON fleet_booking
WHEN NEW.bow_id IS NOT NULL AND NEW.cancelled_at IS NULL AND EXISTS (
    SELECT 1 FROM fleet_booking AS other
    WHERE other.bow_id = NEW.bow_id AND other.cancelled_at IS NULL AND other.id IS NOT NEW.id
      AND other.start < NEW."end" AND NEW.start < other."end")
BEGIN SELECT RAISE(ABORT, 'fleet_booking: a bow is promised twice at one time'); END
"""
POSTGRES_CLASH = """
ALTER TABLE fleet_booking ADD CONSTRAINT fleet_booking_no_clash
EXCLUDE USING gist (bow_id WITH =, tstzrange(start, "end") WITH &&) WHERE (cancelled_at IS NULL)
"""
CLASHES = """
SELECT one.reference, other.reference FROM fleet_booking AS one JOIN fleet_booking AS other
ON one.bow_id = other.bow_id AND one.id < other.id AND one.start < other."end" AND other.start < one."end"
WHERE one.cancelled_at IS NULL AND other.cancelled_at IS NULL ORDER BY 1, 2
"""


def constrain(apps, schema_editor):
    with schema_editor.connection.cursor() as cursor:
        cursor.execute(CLASHES)
        clashes = cursor.fetchall()
    if clashes:
        pairs = "; ".join(f"{one} and {other}" for one, other in clashes[:20])
        raise ValueError(
            f"{len(clashes)} pairs of bookings promise one bow to two guests at one time ({pairs}): "
            "cancel one of each pair in the version that runs now, then migrate again."
        )
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(POSTGRES_CLASH)
        return
    for event in ("INSERT", "UPDATE"):
        schema_editor.execute(SQLITE_CLASH.format(event=event))


def relax(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("ALTER TABLE fleet_booking DROP CONSTRAINT fleet_booking_no_clash")
        return
    for event in ("INSERT", "UPDATE"):
        schema_editor.execute(f"DROP TRIGGER fleet_booking_no_clash_{event}")


class Migration(migrations.Migration):
    dependencies = [("fleet", "0006_feeds_mornings_and_wear_choice")]
    operations = [migrations.RunPython(constrain, relax)]
