"""What every table of a shop has: a UUID as its address and the shop it belongs to."""

from typing import Any

from django.db import models

from witnessmark.errors import WitnessError
from witnessmark.shop.ids import new_id


class ForeignShopError(WitnessError):
    """A row that points at another shop's row."""


class ShopRow(models.Model):
    """A row of one shop. Pages reach it through `scope.Desk`, or by `of` a shop that they have."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    shop = models.ForeignKey("shop.Shop", on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, unless the row points at another shop's row."""
        self.refuse_foreign_rows()
        super().save(*args, **kwargs)

    @classmethod
    def of(cls, shop: Any) -> Any:
        """Queryset of the rows of one shop, given as its row or its key."""
        return cls._default_manager.filter(shop=shop)

    def refuse_foreign_rows(self) -> None:
        """Raise ForeignShopError when a row this one points at belongs to another shop."""
        for field in self._meta.concrete_fields:
            if not (field.is_relation and field.related_model and self._points_into_a_shop(field)):
                continue
            other = getattr(self, field.name)
            if other is not None and other.shop_id != self.shop_id:
                place = f"{self._meta.label}.{field.name}"
                raise ForeignShopError(
                    place, "belongs to another shop", "choose a row of this shop"
                )

    @staticmethod
    def _points_into_a_shop(field: models.Field) -> bool:
        return isinstance(field.related_model, type) and issubclass(field.related_model, ShopRow)


class KeptRow(ShopRow):
    """A row that is written once: the database refuses to change, replace or delete it (`guards`)."""

    class Meta:
        abstract = True
