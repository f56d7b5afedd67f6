"""No address escapes the page budget unsaid: each is a list, a page of one bow, or named with why it is neither."""

from tests.pages.addresses import LISTS, NO_PAGES, OF_ONE_BOW, OTHERS
from tests.pages.test_who_may import BOW_PAGES, FILE_PAGES, OWN_PAGES, POSTED, SITE_PAGES, WITHOUT_SIGN_IN


def test_every_address_is_a_list_or_of_one_bow_or_says_why_not() -> None:
    named = {*SITE_PAGES, *BOW_PAGES, *FILE_PAGES, *OWN_PAGES, *WITHOUT_SIGN_IN}
    assert {*LISTS, *OF_ONE_BOW, *OTHERS, *NO_PAGES} | POSTED == named
