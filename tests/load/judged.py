"""Whether a crowd's work is all in the book, each once, with nothing gone wrong on the way."""

import json
import time
from collections import Counter, defaultdict
from datetime import datetime

import numpy as np

from tests.faults.serving import run
from tests.load.crowd import Crowd

CLOCK_SLACK_S = 2.0
REFRESHED_WITHIN_S = 150.0


def assert_nothing_lost(
    crowd: Crowd, env: dict[str, str], since: datetime, before: frozenset[str] = frozenset()
) -> None:
    """No error, what was acknowledged stands exactly once and nothing besides, wear is fresh, the chain whole.

    `before`: keys of checks that stood already.
    """
    assert not crowd.problems, crowd.problems[:5]
    wrong = Counter((one.kind, one.status) for one in crowd.answers if one.status != 200)
    assert not wrong, (wrong, next(one.text[:500] for one in crowd.answers if one.status != 200))
    stands = _when_fresh(env, since)
    checks, shots, readings = (Counter(stands[name]) for name in ("checks", "shots", "readings"))
    for key in before:
        del checks[key]
    assert crowd.checks and set(checks) == crowd.checks == crowd.checks_sent
    of_checks = {f"{key}-shots" for key in crowd.with_shots}
    assert set(shots) == of_checks | crowd.shots
    assert set(readings) == crowd.readings
    assert {*checks.values(), *shots.values(), *readings.values()} == {1}
    stale = {tag for tag, at in crowd.last_shot.items() if stands["as_of"][tag] < at - CLOCK_SLACK_S}
    assert not stale, f"the wear of {sorted(stale)[:5]} is older than its last shots"
    assert "equals a rebuild" in run(env, "manage.py", "rebuild", "--check")
    run(env, "manage.py", "verify_record")


def _when_fresh(env: dict[str, str], since: datetime) -> dict:
    """What stands, once the clock's refresh has caught up with what many bows at once left for it."""
    end = time.monotonic() + REFRESHED_WITHIN_S
    while True:
        stands = json.loads(run(env, "-m", "tests.load.stands", since.isoformat()).splitlines()[-1])
        if not stands["waiting"] or time.monotonic() > end:
            assert not stands["waiting"], f"{stands['waiting']} bows still wait for their refresh"
            return dict(stands)
        time.sleep(5)


def table(crowd: Crowd, seconds: float) -> str:
    """A line for each kind of request: how many, how long."""
    took: dict[str, list[float]] = defaultdict(list)
    for one in crowd.answers:
        took[one.kind].append(one.seconds * 1e3)
    lines = [f"{'':24} {'requests':>9} {'a second':>9} {'p50 ms':>7} {'p95 ms':>7} {'p99 ms':>7} {'most ms':>8}"]
    for kind, times in sorted(took.items()):
        p50, p95, p99 = np.percentile(times, [50, 95, 99])
        lines.append(
            f"{kind:24} {len(times):9} {len(times) / seconds:9.1f} {p50:7.0f} {p95:7.0f} {p99:7.0f} {max(times):8.0f}"
        )
    return "\n".join(lines)
