"""The installation: what all its shops have in common."""

from django.db import models

from witnessmark.shop.ids import new_id


class Installation(models.Model):
    """One row. Who kept something sent here (a tablet) sends it again when id or restores changed."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    restores = models.PositiveIntegerField(default=0)  # from a backup

    def __str__(self) -> str:
        return f"{self.id}, restored {self.restores} times"
