"""The schedule of the floor for other rooms."""

from __future__ import annotations

from production.scheduling.day_lists import todays_list, todays_lists
from production.scheduling.floor_plans import latest_schedule, make_schedule, out_of_date
from production.scheduling.lateness import late_by_jacket, late_words

__all__ = [
    "late_by_jacket",
    "late_words",
    "latest_schedule",
    "make_schedule",
    "out_of_date",
    "todays_list",
    "todays_lists",
]
