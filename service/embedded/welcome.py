"""What `start` tells the person who started it."""

import io
from pathlib import Path

import segno

from fleet.models import Person
from service.demo.signins import SIGN_INS


def address_lines(url: str, data_directory: Path) -> list[str]:
    """Where the book is open, where its data lie, and how to stop."""
    return [
        "",
        f"Bracebook is open at {url}",
        f"Everything it keeps is in {data_directory} (its programs' logs in {data_directory / 'log'}).",
        "Ctrl-C stops it.",
    ]


def sign_in_lines() -> list[str]:
    """The demo shop's sign-ins, as long as they still work; empty in a shop of one's own."""
    working = [
        f"  {username:<14} {password:<22} {purpose}"
        for username, password, purpose in SIGN_INS
        if (person := Person.objects.filter(username=username, is_active=True).first()) is not None
        and person.check_password(password)
    ]
    return ["", "The demo shop's sign-ins (user name, password):", *working] if working else []


def lan_lines(url: str, certificate: Path) -> list[str]:
    """The code that a phone scans, and what it will ask."""
    code = io.StringIO()
    segno.make(url, error="m").terminal(out=code, compact=True)
    return [
        "",
        code.getvalue().rstrip("\n"),
        f"Scan it with a phone on this network, or type {url}",
        "The phone warns that it does not know the certificate: this machine made it for itself. To use the offline",
        f"check, install it on the phone: {certificate}",
    ]
