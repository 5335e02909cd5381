"""What must lie ready before the first step: parts, fluids with the packs to open, tools, torque wrenches."""

from witnessmark.kit.fluids import FluidNeed, JudgedPack, Pack, PackNeed, PlannedPour, judged
from witnessmark.kit.lay_out import Kit, Missing, PartNeed, ToolNeed, kit
from witnessmark.kit.perhaps import Perhaps, Weighed, set_apart, weigh
from witnessmark.kit.wrenches import WrenchNeed

__all__ = [
    "FluidNeed",
    "JudgedPack",
    "Kit",
    "Missing",
    "Pack",
    "PackNeed",
    "PartNeed",
    "Perhaps",
    "PlannedPour",
    "ToolNeed",
    "Weighed",
    "WrenchNeed",
    "judged",
    "kit",
    "set_apart",
    "weigh",
]
