"""A swag: a garland that hangs between two hooks at one height."""

from __future__ import annotations

from functools import cached_property
from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from jobs.design.supports.base import Neat, Size, Support
from jobs.design.supports.curves import Catenary, Curve


class Swag(Support):
    """A line that hangs as a catenary. The path runs from the left hook to the right one."""

    label: ClassVar[str] = "swag"
    words: ClassVar[str] = "garland that hangs between two points"
    hung: ClassVar[bool] = True

    kind: Literal["swag"] = "swag"
    span_m: Size = Field(title="Span", description="Hook to hook.")
    sag_m: Size = Field(title="Sag", description="From the hooks down to the lowest point.")
    hook_m: Size = Field(title="Hooks above the floor")

    @model_validator(mode="after")
    def hangs_free(self) -> Self:
        if self.sag_m >= self.hook_m:
            raise ValueError(f"a sag below the hooks’ height of {self.hook_m:.2f} m")
        return self

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        hook = neat(min(2.1, free_m))
        return cls(span_m=neat(3.0), sag_m=neat(0.35 * hook), hook_m=hook, tube_m=0.005)

    @cached_property
    def path(self) -> Curve:
        return Catenary(self.span_m, self.sag_m, self.hook_m)
