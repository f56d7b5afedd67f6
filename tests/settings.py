"""The real settings on a private data directory; PostgreSQL where BRACEBOOK_TEST_DATABASE_URL names one."""

import os
import tempfile

os.environ.setdefault("BRACEBOOK_DATA_DIR", tempfile.mkdtemp(prefix="bracebook-tests-"))
os.environ.setdefault("BRACEBOOK_LOG_LEVEL", "WARNING")
if "BRACEBOOK_TEST_DATABASE_URL" in os.environ:
    os.environ["BRACEBOOK_DATABASE_URL"] = os.environ["BRACEBOOK_TEST_DATABASE_URL"]

from service.settings import *  # noqa: E402, F403

# Hashing is made cheap; nothing here tests its strength.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
