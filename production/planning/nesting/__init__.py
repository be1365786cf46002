"""Blocks of any outline laid on cloth, as short as can be found in a given time."""

from production.planning.nesting.blocks import (
    NESTED,
    ROWS,
    Nest,
    NestBlock,
    NestError,
    NestPlace,
    Strip,
    nest_key,
)
from production.planning.nesting.check import faults_of
from production.planning.nesting.grid import fill_around, fit_into
from production.planning.nesting.run import nest

__all__ = [
    "NESTED",
    "ROWS",
    "Nest",
    "NestBlock",
    "NestError",
    "NestPlace",
    "Strip",
    "faults_of",
    "fill_around",
    "fit_into",
    "nest",
    "nest_key",
]
