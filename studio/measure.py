"""Lengths as people write them, held in metres. Pure: the computing cores use it too."""

from typing import Literal

type Units = Literal["metric", "imperial"]
