# The stages of the test command. Each is timed; a failed one is remembered and the next still runs.

FAILED=0

timed() {
    local name=$1 began=$SECONDS status=0
    shift
    echo "== $name"
    "$@" || status=$?
    if [ $status -eq 0 ]; then
        echo "$name: $((SECONDS - began)) s" | tee -a "$BRACEBOOK_STAGES"
    else
        FAILED=1
        echo "$name: FAILED after $((SECONDS - began)) s (exit code $status)" | tee -a "$BRACEBOOK_STAGES"
    fi
    return $status
}

LEFT_OUT=(--ignore=tests/benchmarks)
# Where tests of real services are; tests/conftest.py refuses one that is marked so elsewhere.
SERVED=(tests/backup tests/embedded tests/faults tests/health tests/load tests/night)

run() { .venv/bin/python -m "$@"; }

stage_checks() {
    timed "ruff check" run ruff check
    timed "ruff format" run ruff format --check
    timed "mypy" run mypy
    timed "imports" .venv/bin/lint-imports
    timed "bandit" run bandit -q -r fleet service -ll
    timed "known faults of libraries" run tests.known_faults
    timed "deploy check" deploy_check
    timed "migrations" env BRACEBOOK_DATA_DIR="$WORK/checks" .venv/bin/python manage.py makemigrations --check --dry-run
    timed "benchmarks can be run" run pytest --collect-only -q tests/benchmarks
}

deploy_check() {
    BRACEBOOK_DATA_DIR="$WORK/checks" BRACEBOOK_PUBLIC_URL=https://book.example BRACEBOOK_HSTS_SECONDS=31536000 \
        .venv/bin/python manage.py check --deploy --fail-level WARNING
}

stage_sqlite() {
    timed "tests on SQLite" run pytest tests -n 2 --dist worksteal -q --durations=8 "${LEFT_OUT[@]}" \
        -m "not postgres and not broker and not browser"
}

stage_postgres() {
    timed "start PostgreSQL" start_postgresql || return
    timed "tests on PostgreSQL" env BRACEBOOK_TEST_DATABASE_URL="$POSTGRESQL_URL" \
        .venv/bin/python -m pytest tests -n 2 --dist worksteal -q --durations=8 "${LEFT_OUT[@]}" \
        -m "(postgres or both_engines) and not broker and not browser"
}

# Three at once on two cores: half of their time they wait for programs that they killed to come back.
stage_broker() {
    timed "start PostgreSQL" start_postgresql || return
    timed "tests with a worker" env BRACEBOOK_TEST_POSTGRESQL_URL="$POSTGRESQL_URL" \
        .venv/bin/python -m pytest "${SERVED[@]}" -n 3 --dist worksteal -q --durations=8 -m broker
}

stage_browser() {
    timed "tests in a browser" env DJANGO_ALLOW_ASYNC_UNSAFE=true \
        .venv/bin/python -m pytest tests/e2e -n 2 --dist loadfile -q --durations=8 -m browser
}

stage_benchmarks() {
    timed "benchmarks" run pytest tests/benchmarks -q -m "not postgres"
    timed "start PostgreSQL" start_postgresql || return
    timed "benchmark of many sites" env BRACEBOOK_TEST_DATABASE_URL="$POSTGRESQL_URL" \
        .venv/bin/python -m pytest tests/benchmarks -q -s -m postgres
}
