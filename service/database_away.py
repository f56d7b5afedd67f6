"""Whether what a database said means that it cannot answer now, or that this book asked it something wrong.

SQLite tells both by one class of error: a file that is locked, and a column that is none. Its result codes
(sqlite.org/rescode.html) tell them apart; PostgreSQL's do by SQLSTATE (its manual, appendix A).
"""

import sqlite3

from django.db import InterfaceError, OperationalError

MAY_BE_AWAY = (OperationalError, InterfaceError)
_SQLITE_AWAY = frozenset(
    {
        *(sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL, sqlite3.SQLITE_INTERRUPT),
        *(sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY),
        sqlite3.SQLITE_NOMEM,
    }
)
# Classes: connection, transaction put back (deadlock), no resources, stopped by somebody, the system's own errors.
_POSTGRESQL_AWAY = frozenset({"08", "40", "53", "57", "58"})
_LOCK_NOT_AVAILABLE = "55P03"


def is_away(problem: BaseException | None) -> bool:
    """Whether an error means that the database is away, starting, locked for too long or has no room left.

    Anything else that it says ("no such column", a statement too long) is a fault of the book.
    """
    if not isinstance(problem, MAY_BE_AWAY):
        return False
    said = problem.__cause__
    if isinstance(said, sqlite3.Error):
        # The lowest byte is the primary code; a driver's own error has none.
        code = getattr(said, "sqlite_errorcode", None)
        return code is not None and code & 0xFF in _SQLITE_AWAY
    state = getattr(said, "sqlstate", None)
    # Nothing was answered at all: there is no server, or it went.
    return state is None or state == _LOCK_NOT_AVAILABLE or state[:2] in _POSTGRESQL_AWAY
