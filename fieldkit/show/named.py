"""What texts of the show file name: a type for each kind of field that names a thing.

Each says what may stand there, in which form, and what becomes of it when the thing goes (``gear.names``).
"""

from __future__ import annotations

from typing import Annotated

from fieldkit.gear.names import names
from fieldkit.gear.thing import Id, ModelId

ZoneOfBox = Annotated[Id, names("a zone", "zone", gone="row")]
ZoneForLowEnd = Annotated[Id, names("a zone", "zone", gone="item")]
ZoneNearby = Annotated[Id, names("a zone", "zone", gone="item")]
ZoneForTiming = Annotated[Id, names("a zone", "zone", says="zone {owner} is timed to nothing")]
ServedBy = Annotated[
    ModelId,
    names(
        "an amplifier or rack, or a model of one",
        "unit", "rack", "amplifier", "built_rack",
        gone="item", says="zone {owner} is not pinned to it any more",
    ),
]  # fmt: skip
StockedModel = Annotated[
    ModelId,
    names(
        "a model",
        "loudspeaker", "amplifier", "processor", "cable", "adaptor", "panel", "built_rack",
        gone="row", says="its stock goes",
    ),
]  # fmt: skip
LoudspeakerModel = Annotated[ModelId, names("a model of loudspeaker", "loudspeaker", required=False)]
RackModel = Annotated[ModelId, names("a rack as built", "built_rack")]
CableModel = Annotated[ModelId, names("a model of cable", "cable")]
AdaptorModel = Annotated[ModelId, names("a model of adaptor", "adaptor")]
PanelModel = Annotated[ModelId, names("a model of panel", "panel")]
RackName = Annotated[Id, names("a rack", "rack", gone="row")]
PowersUnit = Annotated[Id, names("a supply", "supply", says="{owner} is on no supply")]
FeedsSupply = Annotated[Id, names("a supply", "supply", says="{owner} is fed from nothing")]
Connector = Annotated[
    str, names("a unit or rack and its connector: SR-1.A", "unit", "rack", form="dot", gone="row", required=False)
]
OutputName = Annotated[str, names("an output: SR-1.3, SR-1.3+4", "unit", form="dot", gone="row", required=False)]
UnitInput = Annotated[
    str,
    names(
        "a signal, a processor output (DP.6), or an input of this unit (=1)",
        "unit", form="dot", gone="item", says="{owner} loses an input", required=False,
    ),
]  # fmt: skip
BoxInput = Annotated[
    str,
    names(
        "a signal or a processor output (DP.6)",
        "unit", form="dot", says="box {owner} loses its input", required=False,
    ),
]  # fmt: skip
SignalWay = Annotated[
    str,
    names("what a signal goes through: multicore 3 > panel R 3", "adaptor", form="pieces", required=False),
]
BoxOnRun = Annotated[Id, names("a box", "box", gone="step")]
LineName = Annotated[
    str, names("a line: run and pin pair, W1/2", "run", form="slash", gone="row", says="its readings go")
]
MeterPoint = Annotated[
    str,
    names(
        "a plug: amp, ML2.in, ML2.out, ML2.alone, PANEL.out, a cable end such as W7-A",
        "box", "run",
        form="place", gone="row", says="the reading of {owner} at {text} goes", required=False,
    ),
]  # fmt: skip
RunName = Annotated[Id, names("a run", "run", gone="row")]
UnitName = Annotated[Id, names("an amplifier or processor", "unit", gone="row")]
FailedThing = Annotated[
    str,
    names(
        "a unit SR-2, an output SR-1.3, a processor output DP.6, a supply or a box",
        "unit", "box", "supply",
        form="place", gone="row", says="what was noted of its failure goes", required=False,
    ),
]  # fmt: skip
BoxThatPlayed = Annotated[Id, names("a box", "box", gone="item", required=False)]
LoggedPlace = Annotated[
    str,
    names(
        "an output, a box, or the thing that was faulty",
        "unit", "box", "run", "rack", "supply",
        form="place", gone="row", says="what the log says of {text} goes", required=False,
    ),
]  # fmt: skip
