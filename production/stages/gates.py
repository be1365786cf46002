"""What must be true before a stage of a jacket is done, and what is noted when it is."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from django.contrib.auth.models import User

from production.models import Jacket, StageEvent


def before_done(
    jacket: Jacket,
    stage: str,
    events: Sequence[StageEvent],
    by: User | None,
    at: datetime.datetime,
    *,
    vouch: bool,
) -> None:
    """Raises StepRefusedError when the stage cannot be done. Who vouches says by the tap that what
    is not on record is so: that is noted as theirs."""
