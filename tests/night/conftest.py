"""A shop, and a real SMTP server that keeps what it gets."""

from collections.abc import Callable, Iterator
from email import message_from_bytes, policy
from email.message import EmailMessage

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests import personas
from tests.embedded.running import free_port
from tests.personas import Shop


class Letterbox:
    """What arrived, in order; `refuse` makes it answer with a temporary failure."""

    def __init__(self) -> None:
        self.letters: list[tuple[list[str], EmailMessage]] = []
        self.refuse = False

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        if self.refuse:
            return "451 try again later"
        letter = message_from_bytes(envelope.content, policy=policy.default)  # type: ignore[arg-type]
        self.letters.append((list(envelope.rcpt_tos), letter))  # type: ignore[arg-type]
        return "250 kept"


@pytest.fixture
def letterbox(settings: object) -> Iterator[Letterbox]:
    """A server on a port of its own, and Django's real SMTP backend pointed at it."""
    box = Letterbox()
    port = free_port()
    running = Controller(box, hostname="127.0.0.1", port=port)
    running.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"  # type: ignore[attr-defined]
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port  # type: ignore[attr-defined]
    settings.MAIL_IS_CONFIGURED = True  # type: ignore[attr-defined]
    yield box
    running.stop()


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


@pytest.fixture
def sent() -> list[tuple[int, str]]:
    """What was given to a `send` that only notes it."""
    return []


@pytest.fixture
def send(sent: list[tuple[int, str]]) -> Callable[[int, str], None]:
    return lambda one, text: sent.append((one, text))
