"""Arguments that several commands share, with refusals that name what is there."""

from datetime import date, datetime

from django.core.management.base import CommandError

from fleet.models import Person, Post, Site
from fleet.vocabulary import Role


def site_named(code: str | None) -> Site | None:
    """The site with this code; None for none given."""
    if code is None:
        return None
    site = Site.objects.filter(code=code).first()
    if site is None:
        there = ", ".join(Site.objects.values_list("code", flat=True)) or "none yet"
        raise CommandError(f"There is no site {code!r}; the book has: {there}.")
    return site


def day_named(text: str) -> date:
    """A day as YYYY-MM-DD."""
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError as problem:
        raise CommandError(f"{text!r} is not a day: give it as YYYY-MM-DD, for example 2026-05-04.") from problem


def person_named(username: str | None) -> Person:
    """The acting person: the one named, else the first owner of the book."""
    if username is not None:
        person = Person.objects.filter(username=username).first()
        if person is None:
            raise CommandError(f"There is no person {username!r}; see `manage.py take_in people FILE`.")
        return person
    owner = Post.objects.filter(role=Role.OWNER).order_by("pk").select_related("person").first()
    if owner is None:
        raise CommandError("The book has no owner yet: run `manage.py found` first, or name a person with --by.")
    return owner.person
