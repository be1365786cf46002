"""What can go wrong in production, in words for the person who asked."""

from __future__ import annotations


class ProductionError(Exception):
    """Something in production cannot be done; the message says what and why."""


class UnknownJacketError(ProductionError):
    """No jacket has this code."""


class StepRefusedError(ProductionError):
    """The step does not fit where the jacket stands; nothing was changed."""


class MovedOnError(StepRefusedError):
    """Someone else was quicker: the page that the step came from is out of date."""


class DocumentError(ProductionError):
    """A document that cannot be printed; the message says what is missing and where."""
