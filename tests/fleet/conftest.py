"""The range that the register's tests work on."""

import pytest

from fleet.models import Bow
from tests import personas


@pytest.fixture
def shop(db: None) -> personas.Shop:
    """Larkspur Range with its people."""
    return personas.shop()


@pytest.fixture
def bow(shop: personas.Shop) -> Bow:
    """A twin-cam bow with all its cords, ready to go out."""
    return personas.fitted_bow(shop, "twin", tag="L-T1")
