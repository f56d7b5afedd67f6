"""Which migrations a database has, and the tables as they were at that point."""

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from service.backup.archive import BackupRefused

Nodes = set[tuple[str, str]]
# Sign-ins end with a restore: a session from the backup would let in whoever held it then.
LEFT_OUT = frozenset({"sessions.session"})


def applied_to(connection: BaseDatabaseWrapper) -> Nodes:
    """The migrations that a database has had."""
    return set(MigrationRecorder(connection).applied_migrations())


def by_app(nodes: Nodes) -> dict[str, list[str]]:
    """Migrations as the manifest writes them."""
    found: dict[str, list[str]] = {}
    for app, name in sorted(nodes):
        found.setdefault(app, []).append(name)
    return found


def nodes_of(migrations: dict[str, list[str]]) -> Nodes:
    """Migrations as the manifest reads."""
    return {(app, name) for app, names in migrations.items() for name in names}


def models_at(nodes: Nodes, connection: BaseDatabaseWrapper) -> list[type[models.Model]]:
    """Every table's model as it was with these migrations applied, by label; BackupRefused if one is unknown here."""
    loader = MigrationLoader(connection)
    unknown = nodes - set(loader.graph.nodes)
    if unknown:
        app, name = min(unknown)
        raise BackupRefused(
            f"The book was written by a newer Bracebook: this one does not know the migration {app}.{name}. "
            "Install that version, or a later one, and try again."
        )
    historical = loader.project_state(sorted(nodes)).apps
    found = [
        model
        for model in historical.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and not model._meta.swapped
    ]
    return sorted((model for model in found if label_of(model) not in LEFT_OUT), key=label_of)


def label_of(model: type[models.Model]) -> str:
    """A model's name in the manifest, the same on every engine."""
    return str(model._meta.label_lower)


def migrate_to(nodes: Nodes, connection: BaseDatabaseWrapper) -> None:
    """Bring a database that has none, or only some, of these migrations to exactly these.

    BackupRefused if it has others: migrations are not undone here.
    """
    beyond = applied_to(connection) - nodes
    if beyond:
        app, name = min(beyond)
        raise BackupRefused(
            f"The backup is older than this database, which has the migration {app}.{name} already: restore it into "
            "an empty one (a new BRACEBOOK_DATA_DIR, or a new PostgreSQL database); it is brought up to date there."
        )
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    # Not by targets: one that another target has brought along would be taken for a step back.
    plan = [
        (migration, backwards)
        for migration, backwards in executor.migration_plan(leaves)
        if (migration.app_label, migration.name) in nodes
    ]
    if plan:
        executor.migrate(leaves, plan=plan)
