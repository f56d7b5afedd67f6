"""What the check for known faults of libraries says, and when it fails (the answers are in pip-audit's own form)."""

import json

from tests.known_faults import judged

SOUND = {"name": "soundlib", "version": "1.0", "vulns": []}
FAULTY = {"name": "faultylib", "version": "2.0", "vulns": [{"id": "X-1", "fix_versions": ["2.1"], "description": ""}]}
UNKNOWN = {"name": "ownlib", "skip_reason": "not found"}


def answer(*libraries: dict[str, object]) -> str:
    return json.dumps({"dependencies": libraries, "fixes": []})


def test_a_fault_fails_and_is_named_with_its_cure() -> None:
    well, said = judged(answer(SOUND, FAULTY), "Found 1 known vulnerability")
    assert not well
    assert "faultylib 2.0: X-1, mended in 2.1" in said


def test_no_fault_is_well() -> None:
    assert judged(answer(SOUND), "") == (True, "1 of 1 locked libraries were checked, 0 known faults.")


def test_what_nobody_knows_of_is_told_as_not_checked() -> None:
    well, said = judged(answer(SOUND, UNKNOWN), "")
    assert well
    assert said.startswith("NOT CHECKED: 1 libraries")
    assert "1 of 2 locked libraries were checked" in said


def test_no_answer_is_told_and_does_not_fail() -> None:
    assert judged("", "one\nConnectionError: no route") == (
        True,
        "NOT CHECKED: the vulnerability service gave no answer (ConnectionError: no route).",
    )
