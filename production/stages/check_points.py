"""What is looked at on a finished jacket."""

from __future__ import annotations

from production.models import CheckPoint

#: Code, words, where a jacket goes back to when it is not right. Common practice, no source.
SHIPPED = (
    ("zipper", "Zipper runs freely to the top and closes", "sew"),
    ("topstitching", "Topstitching even", "sew"),
    ("stitches", "No skipped stitches, no open seam", "sew"),
    ("threads", "Threads trimmed, no pin or needle left in", "finish"),
    ("label", "All trims on it, label and size right", "finish"),
    ("colors", "Colors as ordered", "cut"),
    ("sides", "Every block on its side, right side out", "sew"),
)


def shipped_points() -> list[CheckPoint]:
    """The shipped points as rows that are not stored."""
    return [
        CheckPoint(code=code, words=words, mend_stage=stage, position=position)
        for position, (code, words, stage) in enumerate(SHIPPED)
    ]


def install_check_points() -> None:
    """Adds the shipped points that are missing, and leaves those that are there as they are."""
    there = set(CheckPoint.objects.values_list("code", flat=True))
    missing = [point for point in shipped_points() if point.code not in there]
    CheckPoint.objects.bulk_create(missing, ignore_conflicts=True)


def asked_points() -> list[CheckPoint]:
    """What is asked of a jacket now; the shipped points while the list was never set up."""
    points = list(CheckPoint.objects.all()) or shipped_points()
    return [point for point in points if point.is_asked]


def stored_points() -> list[CheckPoint]:
    """As `asked_points`, stored, so that a fault can name one."""
    if not CheckPoint.objects.exists():
        install_check_points()
    return asked_points()
