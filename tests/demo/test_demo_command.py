"""`manage.py demo`: after it the book has learned from the season, as it would have in the night."""

import pytest
from django.core.management import call_command

from service.management.commands import demo
from service.models import BowUse, SiteUse, SpecLife
from tests import personas


@pytest.mark.django_db
def test_what_the_season_teaches_is_learned_before_anybody_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    def one_bow(_now: object) -> int:
        shop = personas.shop()
        personas.shoot(shop, personas.fitted_bow(shop, tag="D-1"), 60)
        return 1

    monkeypatch.setattr(demo, "load", one_bow)
    monkeypatch.setattr(demo, "put_worked_cases", lambda _now: None)
    call_command("demo")
    assert SiteUse.objects.count() == 1
    assert BowUse.objects.count() == 1
    assert SpecLife.objects.count() == 3
