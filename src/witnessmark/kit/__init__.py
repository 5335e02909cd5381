"""What must lie ready before the first step: parts, fluids with the packs to open, and tools."""

from witnessmark.kit.fluids import FluidNeed, Pack, PackNeed, Pour
from witnessmark.kit.lay_out import Kit, Missing, PartNeed, ToolNeed, kit

__all__ = ["FluidNeed", "Kit", "Missing", "Pack", "PackNeed", "PartNeed", "Pour", "ToolNeed", "kit"]
