"""Tables that only grow: what happened is never overwritten."""

from __future__ import annotations

from typing import Any

from django.db import models


class OverwriteError(RuntimeError):
    """A slip of the program: a row that tells what happened was about to be changed."""


class GrowsOnly(models.Model):
    """Rows are added and neither stored again nor deleted one by one. Erasing members' data and
    setting up the demo go by querysets, which say so themselves."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise OverwriteError(
                f"{type(self).__name__} {self.pk} tells what happened and is not stored again: add "
                "a row that takes it back."
            )
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise OverwriteError(f"{type(self).__name__} {self.pk} tells what happened and stays.")
