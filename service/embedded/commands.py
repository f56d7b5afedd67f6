"""The plain command line of each program. docker-compose.yml runs the same ones, each in a container of its own."""

import sys
from pathlib import Path

from service.embedded.address import Address

# Seconds that a request may still take once the web server has been asked to stop.
WEB_GRACE_S = 5


def web(address: Address, processes: int, threads: int, certificate: str = "", key: str = "") -> list[str]:
    """The web server; with HTTPS if a certificate and its key (PEM, PKCS #8) are given."""
    command = [sys.executable, "-m", "granian", "--interface", "wsgi"]
    command += ["--host", address.host, "--port", str(address.port)]
    command += ["--workers", str(processes), "--blocking-threads", str(threads), "--respawn-failed-workers"]
    command += ["--workers-kill-timeout", str(WEB_GRACE_S)]
    if certificate:
        command += ["--ssl-certificate", certificate, "--ssl-keyfile", key, "--ssl-protocol-min", "tls1.2"]
    return [*command, "service.wsgi:application"]


def worker(processes: int) -> list[str]:
    """The Celery worker."""
    return [*_celery(), "worker", "--loglevel", "INFO", "--concurrency", str(processes)]


def beat() -> list[str]:
    """The clock that sends what is due; one for the whole service."""
    return [*_celery(), "beat", "--loglevel", "INFO", "--pidfile", ""]


def _celery() -> list[str]:
    return [sys.executable, "-m", "celery", "-A", "service.celery"]


def broker(program: Path, socket: Path, directory: Path) -> list[str]:
    """Valkey on a unix socket, no port; every task is on disk before it is acknowledged to the sender's kernel."""
    command = [str(program), "--port", "0", "--unixsocket", str(socket), "--unixsocketperm", "700"]
    command += ["--dir", str(directory), "--appendonly", "yes", "--appendfsync", "everysec", "--save", ""]
    # noeviction: a full memory refuses new tasks aloud instead of dropping old ones quietly.
    return [*command, "--maxmemory-policy", "noeviction", "--daemonize", "no"]
