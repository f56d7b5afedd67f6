"""The demo shop's sign-ins. Everybody may read them here: the demo is for looking, never for a real shop's book."""

SIGN_INS: list[tuple[str, str, str]] = [
    ("odile", "demo-owner-bracing", "owner of both sites"),
    ("marta", "demo-manager-bracing", "manager, Hollow Well Range (imperial, Letter)"),
    ("teodor", "demo-bench-bracing", "technician, Hollow Well Range"),
    ("imre", "demo-second-bracing", "second technician, Hollow Well Range"),
    ("juno", "demo-counter-bracing", "counter, Hollow Well Range"),
    ("sunniva", "demo-camp-bracing", "manager, Tarnmoor Camp (metric, A4)"),
    ("brage", "demo-shed-bracing", "technician, Tarnmoor Camp"),
    ("liv", "demo-store-bracing", "counter, Tarnmoor Camp"),
]
