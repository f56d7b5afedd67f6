"""Known faults of the locked libraries, asked of the public vulnerability service:  python -m tests.known_faults

Fails if a library has one. Where the service cannot be reached, or knows nothing of a library, it says so plainly and
does not fail: the test command must run on a machine without a network.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

LOCK = Path(__file__).resolve().parent.parent / ".ci" / "requirements.txt"
BOUND_S = 90
ASK = ["-m", "pip_audit", "-r", str(LOCK), "--disable-pip", "--require-hashes", "--progress-spinner", "off"]
ASK += ["--timeout", "5", "-f", "json"]


def judged(answer: str, complaint: str) -> tuple[bool, str]:
    """Whether all is well, and what to say, from what pip-audit wrote on its two outputs."""
    try:
        libraries: list[dict[str, Any]] = json.loads(answer)["dependencies"]
    except (ValueError, KeyError, TypeError):
        return True, f"NOT CHECKED: the vulnerability service gave no answer ({_last_line(complaint)})."
    faults = [
        f"{one['name']} {one['version']}: {fault['id']}, mended in {', '.join(fault['fix_versions']) or 'no version'}"
        for one in libraries
        for fault in one.get("vulns", [])
    ]
    unknown = sum("skip_reason" in one for one in libraries)
    said = f"{len(libraries) - unknown} of {len(libraries)} locked libraries were checked"
    if unknown:
        said = f"NOT CHECKED: {unknown} libraries that the service here knows nothing of; {said}"
    return not faults, "\n".join([f"{said}, {len(faults)} known faults.", *faults])


def _last_line(text: str) -> str:
    lines = text.strip().splitlines()
    return lines[-1][:300] if lines else "it said nothing"


def ask() -> tuple[bool, str]:
    """Ask, for at most BOUND_S seconds."""
    try:
        done = subprocess.run([sys.executable, *ASK], capture_output=True, text=True, timeout=BOUND_S, check=False)
    except subprocess.TimeoutExpired:
        return True, f"NOT CHECKED: the vulnerability service gave no answer within {BOUND_S} s."
    return judged(done.stdout, done.stderr)


if __name__ == "__main__":
    well, said = ask()
    print(said)
    sys.exit(0 if well else 1)
