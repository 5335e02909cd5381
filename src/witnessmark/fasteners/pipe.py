"""Pipe threads as plugs and senders have them: which are parallel, which taper, and where each seals.

G: ISO 228-1, R, Rc and Rp: ISO 7-1 (Whitworth form, 55°); NPT: ASME B1.20.1 (60°). Tables from memory, held
against published ones in the tests.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.errors import listed
from witnessmark.fasteners.errors import FastenerError
from witnessmark.fasteners.inch import MM_PER_INCH
from witnessmark.fasteners.threads import MOST_LETTERS

TAPER = "1 in 16"  # of the diameter; ISO 7-1 and ASME B1.20.1
# Size: threads to the inch, diameter over the crests in mm (of R at its gauge plane). ISO 228-1, ISO 7-1.
_BRITISH: dict[str, tuple[float, float]] = {
    "1/16": (28, 7.723), "1/8": (28, 9.728), "1/4": (19, 13.157), "3/8": (19, 16.662), "1/2": (14, 20.955),
    "3/4": (14, 26.441), "1": (11, 33.249),
}  # fmt: skip
# Size: threads to the inch, outside diameter of the pipe in inches. ASME B1.20.1.
_NPT: dict[str, tuple[float, float]] = {
    "1/16": (27, 0.3125), "1/8": (27, 0.405), "1/4": (18, 0.540), "3/8": (18, 0.675), "1/2": (14, 0.840),
    "3/4": (14, 1.050), "1": (11.5, 1.315),
}  # fmt: skip
SIZES = tuple(_BRITISH)
KINDS = {
    "G": "parallel, inside or outside", "R": "tapered, outside", "Rc": "tapered, inside", "Rp": "parallel, inside",
    "NPT": "tapered, inside or outside",
}  # fmt: skip
STANDARDS = {
    "G": "ISO 228-1", "R": "ISO 7-1", "Rc": "ISO 7-1", "Rp": "ISO 7-1", "NPT": "ASME B1.20.1",
}  # fmt: skip
WASHER, THREAD = "on its washer or ring", "in the thread, with a sealant"


@dataclass(frozen=True)
class PipeThread:
    """A kind of `KINDS` and a size of `SIZES`; the size is that of an old pipe and measures nothing on the plug."""

    kind: str
    size: str

    @property
    def name(self) -> str:
        """As its standard writes it: G 1/4, R 1/4, 1/4-18 NPT."""
        return (
            f"{self.size}-{self.per_inch:g} NPT"
            if self.kind == "NPT"
            else f"{self.kind} {self.size}"
        )

    @property
    def tapered(self) -> bool:
        """Whether it grows thicker away from its end."""
        return self.kind in ("R", "Rc", "NPT")

    @property
    def seals(self) -> str:
        """Where it seals."""
        return WASHER if self.kind == "G" else THREAD

    @property
    def flank_deg(self) -> int:
        """The angle between two flanks."""
        return 60 if self.kind == "NPT" else 55

    @property
    def per_inch(self) -> float:
        """Threads to the inch."""
        return (_NPT if self.kind == "NPT" else _BRITISH)[self.size][0]

    @property
    def pitch_mm(self) -> float:
        """What one turn moves it."""
        return MM_PER_INCH / self.per_inch

    @property
    def diameter_mm(self) -> float:
        """Over the crests: of NPT the pipe's, at its thick end."""
        if self.kind == "NPT":
            return _NPT[self.size][1] * MM_PER_INCH
        return _BRITISH[self.size][1]

    @property
    def minor_diameter_mm(self) -> float | None:
        """Of the bore: d − 1.280654·P (ISO 228-1); None of NPT, which has none that holds all along."""
        return None if self.kind == "NPT" else self.diameter_mm - 1.280654 * self.pitch_mm


_SIZE = r"(?P<size>1/16|1/8|1/4|3/8|1/2|3/4|1)"
_KIND = r"(?P<kind>G|Rc|Rp|R|NPTF?|BSPP|BSPT|BSP|gas|PT|PF)"
_BEFORE = re.compile(rf"{_KIND} ?-?{_SIZE}(?:\"|″)?(?: ?-? ?[AB])?", re.IGNORECASE | re.ASCII)
_BEHIND = re.compile(
    rf"{_SIZE}(?:\"|″|in)?(?: ?[-x ] ?(?P<turns>\d\d(?:\.5)?))? ?-? ?{_KIND}",
    re.IGNORECASE | re.ASCII,
)
# Older and trade names of the same threads; from memory.
_ALSO = {"bspp": "G", "pf": "G", "bspt": "R", "pt": "R", "nptf": "NPT"}
_EXAMPLE = "write for instance G 1/4, R 1/8 or 1/4 NPT"


def read_pipe_thread(text: str, *, place: str = "thread") -> PipeThread:
    """Read "G1/4", "R 1/8", "Rc 1/4", "1/4 NPT", "1/8-27 NPT", "1/4 BSPP", "PT 1/8". Raises FastenerError.

    A size alone, or BSP alone, is asked about: parallel or tapered.
    """
    plain = " ".join(text.split()).replace("–", "-").replace(" /", "/").replace("/ ", "/")
    shown = f"“{plain[:MOST_LETTERS]}”"
    found = _BEFORE.fullmatch(plain) or _BEHIND.fullmatch(plain)
    if found is None:
        alone = re.fullmatch(rf"{_SIZE}(?:\"|″)?(?: ?-? ?\d\d)?", plain)
        if alone:
            there = f"write G {alone['size']}, R {alone['size']} or {alone['size']} NPT"
            raise FastenerError(place, f"{shown} may be a parallel or a tapered thread", there)
        expected = f"{_EXAMPLE}; sizes are {listed(SIZES)}"
        if re.match(r"M ?\d", plain, re.IGNORECASE):
            expected = "a metric thread has its own: Sizes of a thread (thread)"
        raise FastenerError(place, f"{shown} is no pipe thread that can be read", expected)
    written = found["kind"].casefold()
    if written in ("bsp", "gas"):
        there = f"write G {found['size']} where it is parallel, R {found['size']} where it tapers"
        raise FastenerError(place, f"{shown} may be parallel or tapered", there)
    kinds = {kind.casefold(): kind for kind in KINDS} | _ALSO
    thread = PipeThread(kinds[written], found["size"])
    turns = found.groupdict().get("turns")
    if turns and float(turns) != thread.per_inch:
        problem = f"{thread.name} has {thread.per_inch:g} threads to the inch, not {turns}"
        raise FastenerError(place, problem, "count them again along one inch")
    return thread


def pipe_threads() -> list[PipeThread]:
    """G, R and NPT of every size, the smallest first."""
    return [PipeThread(kind, size) for size in SIZES for kind in ("G", "R", "NPT")]
