"""Readings of one day, straight from their file."""

from os import PathLike
from pathlib import Path

from limbfe.analysis.bow.setup import BowSetup
from limbfe.studies.fit.readings import Readings, check_enough, readings_of
from limbfe.studies.fit.table import read_table


def read_readings(path: str | PathLike[str], setup: BowSetup) -> Readings:
    readings = readings_of(read_table(Path(path)), setup, str(path))
    check_enough(readings)
    return readings
