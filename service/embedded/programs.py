"""The four programs that `start` runs, with the environment that they share."""

import http.client
import os
import ssl
from pathlib import Path

from django.conf import settings
from kombu.exceptions import OperationalError

from service.embedded import broker, commands, leftovers
from service.embedded.address import Address
from service.embedded.child import Child, Program

# How long each may take to end its work; then it is killed. A killed task runs again at the next start.
WEB_GRACE_S = commands.WEB_GRACE_S + 5.0
WORKER_GRACE_S = 15.0
BEAT_GRACE_S = 5.0
BROKER_GRACE_S = 20.0


def children(address: Address, overrides: dict[str, str]) -> list[Child]:
    """Broker (unless one is named in BRACEBOOK_BROKER_URL), worker, beat and web server, in the order of their start.

    `overrides` are the BRACEBOOK_ settings that `start` itself chose.
    """
    env = {**os.environ, **overrides, leftovers.MARK: str(settings.DATA_DIR)}
    logs = Path(settings.DATA_DIR) / "log"
    logs.mkdir(mode=0o700, exist_ok=True)
    programs = [_worker(logs), _beat(logs), _web(address, overrides, logs)]
    if has_embedded_broker():
        programs.insert(0, _broker(logs))
    return [Child(program, env, Path(settings.BASE_DIR)) for program in programs]


def has_embedded_broker() -> bool:
    """Whether the broker is ours to run."""
    return bool(settings.CELERY_BROKER_URL == settings.EMBEDDED_BROKER_URL)


def _broker(logs: Path) -> Program:
    directory = Path(settings.DATA_DIR) / "broker"
    directory.mkdir(mode=0o700, exist_ok=True)
    return Program(
        name="broker",
        command=commands.broker(broker.program(), settings.BROKER_SOCKET, directory),
        log=logs / "broker.log",
        grace_s=BROKER_GRACE_S,
        is_ready=lambda: broker.answers(settings.BROKER_SOCKET),
    )


def _worker(logs: Path) -> Program:
    return Program(
        name="worker",
        command=commands.worker(settings.WORKER_PROCESSES),
        log=logs / "worker.log",
        grace_s=WORKER_GRACE_S,
        prepare=_give_back_unfinished if has_embedded_broker() else lambda: None,
    )


def _give_back_unfinished() -> None:
    try:
        broker.give_back_unfinished()
    except OperationalError as problem:
        raise OSError(f"the broker does not answer: {problem}") from problem


def _beat(logs: Path) -> Program:
    return Program(name="beat", command=commands.beat(), log=logs / "beat.log", grace_s=BEAT_GRACE_S)


def _web(address: Address, overrides: dict[str, str], logs: Path) -> Program:
    certificate = overrides.get("BRACEBOOK_TLS_CERTIFICATE", settings.TLS_CERTIFICATE)
    key = overrides.get("BRACEBOOK_TLS_KEY", settings.TLS_KEY)
    return Program(
        name="web server",
        command=commands.web(address, settings.WEB_PROCESSES, settings.WEB_THREADS, certificate, key),
        log=logs / "web.log",
        grace_s=WEB_GRACE_S,
        is_ready=lambda: _serves(address.reachable_here, bool(certificate)),
        prepare=_forget_counts,
    )


def _forget_counts() -> None:
    """The figures of web processes that are gone: a counter that starts from nothing is what a restart looks like."""
    for counts in settings.METRICS_DIR.glob("*.db"):
        counts.unlink(missing_ok=True)


def _serves(address: Address, with_tls: bool) -> bool:
    """Whether the site answers at all; any answer will do, and the certificate is our own."""
    if with_tls:
        connection: http.client.HTTPConnection = http.client.HTTPSConnection(
            address.host, address.port, timeout=5, context=_trusting()
        )
    else:
        connection = http.client.HTTPConnection(address.host, address.port, timeout=5)
    try:
        connection.request("HEAD", "/")
        return connection.getresponse().status > 0
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()


def _trusting() -> ssl.SSLContext:
    context = ssl.create_default_context()
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context
