"""What every table of a show file and of the gear library has in common."""

from __future__ import annotations

from typing import Annotated

import msgspec

from fieldkit.gear.names import OwnPart, names
from fieldkit.units import Mass

Id = Annotated[
    str, msgspec.Meta(pattern=r"^[^\s\x00-\x1f\x7f-\x9f/.+=:\[\]{}\"'#,]{1,64}$"), names("the thing itself: its label")
]
"""A label that people use: ``SR-1``, ``ML2``. No spaces and none of the marks that join labels: ``/ . + = :``."""

ModelId = Annotated[
    str, msgspec.Meta(pattern=r"^[^\s\x00-\x1f\x7f-\x9f\[\]{}\"'#,=]{1,64}$"), names("the model or preset itself")
]
"""The name of a model or preset: ``four-core-2.5``. A dot is welcome here, since nothing is joined to it."""

Count = Annotated[int, msgspec.Meta(ge=0, le=100_000)]
Positive = Annotated[int, msgspec.Meta(ge=1, le=1_000)]

Quality = Annotated[float, msgspec.Meta(gt=0, le=1_000)]

PinMap = dict[OwnPart, OwnPart]
"""Pin pair at the near end -> pin pair at the far end: ``{ 1 = "2", 2 = "1" }`` crosses two pairs."""


class Thing(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, gc=False):
    """A table of the file: frozen, strict about its keys, silent about defaults.

    Trees of frozen things hold no circles, so the garbage collector need not look at them (``gc=False``): with
    10,000 boxes that is the difference between linear growth and 1.7 times as much.

    ``kw_only`` is not inherited by msgspec structs, so each of them says it.
    """


class Case(Thing, frozen=True, kw_only=True):
    """What a model travels in."""

    holds: Positive = 1
    """How many of the model go into one case."""
    weight: Mass | None = None
    """Of one case, empty."""
