"""The range that the orders' tests work on."""

import pytest

from service.models import WorkOrder
from tests import personas
from tests.orders.bench import issued, worn_bow


@pytest.fixture
def shop(db: None) -> personas.Shop:
    """Larkspur Range with its people."""
    return personas.shop()


@pytest.fixture
def order(shop: personas.Shop) -> WorkOrder:
    """An order to replace a worn set."""
    return issued(shop, worn_bow(shop))
