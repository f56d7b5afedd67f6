"""What a person keeps at the desk: views of their own and the screen's theme."""

import pytest

from fleet import record
from fleet.models import SavedView
from fleet.record import Refused
from fleet.record.desk import MOST_VIEWS
from tests.personas import Shop


def test_the_same_name_again_replaces_the_view(shop: Shop) -> None:
    record.save_view(by=shop.manager, page="due", name="Camp strings", query="cord=string")
    record.save_view(by=shop.manager, page="due", name=" Camp strings ", query="cord=string&when=past")
    view = SavedView.objects.get()
    assert (view.person, view.query) == (shop.manager, "cord=string&when=past")


def test_a_name_is_a_persons_own(shop: Shop) -> None:
    for person in (shop.manager, shop.counter):
        record.save_view(by=person, page="due", name="Mine", query="")
    view = shop.manager.views.get()
    with pytest.raises(Refused, match="not yours"):
        record.forget_view(by=shop.counter, view=view)
    record.forget_view(by=shop.manager, view=view)
    assert list(SavedView.objects.values_list("person", flat=True)) == [shop.counter.pk]


def test_no_name_too_long_a_name_and_too_many_are_refused(shop: Shop) -> None:
    with pytest.raises(Refused, match="needs a name"):
        record.save_view(by=shop.manager, page="due", name="  ", query="")
    with pytest.raises(Refused, match="40"):
        record.save_view(by=shop.manager, page="due", name="n" * 41, query="")
    for number in range(MOST_VIEWS):
        record.save_view(by=shop.manager, page="due", name=str(number), query="")
    with pytest.raises(Refused, match="forget one first"):
        record.save_view(by=shop.manager, page="due", name="one more", query="")
    record.save_view(by=shop.manager, page="due", name="3", query="when=past")


def test_a_theme_is_one_of_three(shop: Shop) -> None:
    assert record.choose_theme(by=shop.manager, theme="dark").theme == "dark"
    assert record.choose_theme(by=shop.manager, theme="device").theme == "device"
    with pytest.raises(Refused, match="'neon' is not one of device, light, dark"):
        record.choose_theme(by=shop.manager, theme="neon")


def test_a_language_is_one_that_the_book_speaks_or_the_browsers(shop: Shop) -> None:
    assert record.choose_language(by=shop.manager, language="fr").language == "fr"
    assert record.choose_theme(by=shop.manager, theme="dark").language == "fr"
    assert record.choose_language(by=shop.manager, language="").language == ""
    with pytest.raises(Refused, match="'xx' is not one of en, fr, or empty"):
        record.choose_language(by=shop.manager, language="xx")
