"""Stock of cords: movements and supplier orders. On hand is the sum of the movements, never typed in."""

from django.db import models
from django.db.models import Q

from fleet.models.sites import Person, Site
from fleet.models.specs import CordSpec
from fleet.vocabulary import MovementKind


class StockMovement(models.Model):
    """A change of the number of cords on the shelf; `quantity` is signed."""

    cord_spec = models.ForeignKey(CordSpec, on_delete=models.PROTECT, related_name="movements")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=8, choices=MovementKind.choices)
    quantity = models.IntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    order_number = models.CharField(max_length=24, blank=True)
    key = models.CharField(max_length=64, unique=True)

    class Meta:
        indexes = [models.Index(fields=["site", "cord_spec"], name="movement_site_spec")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="counted")
                | Q(kind="received", quantity__gt=0)
                | Q(kind__in=["used", "scrapped"], quantity__lt=0),
                name="movement_sign_follows_kind",
            ),
        ]


class SupplierOrder(models.Model):
    """Cords ordered and not all here yet."""

    cord_spec = models.ForeignKey(CordSpec, on_delete=models.PROTECT, related_name="supplier_orders")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="supplier_orders")
    reference = models.CharField(max_length=40, unique=True)
    quantity = models.PositiveIntegerField()
    ordered_on = models.DateField()
    expected_on = models.DateField()
    received_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
