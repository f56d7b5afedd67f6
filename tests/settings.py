"""The real settings on a private data directory; PostgreSQL where BRACEBOOK_TEST_DATABASE_URL names one."""

import os
import tempfile

os.environ.setdefault("BRACEBOOK_DATA_DIR", tempfile.mkdtemp(prefix="bracebook-tests-"))
os.environ.setdefault("BRACEBOOK_LOG_LEVEL", "WARNING")
# Tasks that no test waits for go nowhere; the fixture `worker` puts a real broker here.
os.environ.setdefault("BRACEBOOK_BROKER_URL", "memory://")
if "BRACEBOOK_TEST_DATABASE_URL" in os.environ:
    os.environ["BRACEBOOK_DATABASE_URL"] = os.environ["BRACEBOOK_TEST_DATABASE_URL"]

from service.settings import *  # noqa: F403
from service.settings import DATA_DIR, DATABASES

# Hashing is made cheap; nothing here tests its strength.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# A file, as in real life: write-ahead logging works, and other processes (a worker) see what a test commits.
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test-book.sqlite3")}
