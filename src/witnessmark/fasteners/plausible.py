"""Whether an entered torque can be right for its thread: a check for typing errors, never a supply of figures.

The band is wide on purpose. Above it the bolt would stretch, break or strip its thread even with
the strongest likely material and rough dry threads; below it the joint would hardly clamp. A torque
inside it may still be wrong: only the source tells.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from witnessmark.fasteners.strength import (
    STRONGEST,
    WEAKEST,
    Material,
    PropertyClass,
    bolt_class,
)
from witnessmark.fasteners.threads import Thread
from witnessmark.fasteners.tightening import (
    Friction,
    assembly_torque_nm,
    preload_n,
    strips_at_n,
    torque_nm,
)
from witnessmark.units import Amount, slips

FastenerKind = Literal[
    "bolt", "nut", "stud", "pinch", "axle", "plug", "hollow bolt", "spark plug", "adjusting nut",
    "hose clamp", "oil filter",
]  # fmt: skip
Outcome = Literal[
    "fits",
    "would stretch",
    "would break",
    "would strip",
    "hardly clamps",
    "far too tight",
    "no verdict",
]
Finding = Literal["would stretch", "would break", "would strip", "hardly clamps"]

# Torques of these are set by a sealing ring, a taper, a gasket or play, not by the bolt's strength.
NO_VERDICT: dict[FastenerKind, str] = {
    "plug": "a plug is tightened to its sealing ring, not to its thread's strength",
    "hollow bolt": "a hollow bolt is drilled and tightened to its sealing rings",
    "spark plug": "a spark plug is hollow and tightened to its seat",
    "adjusting nut": "an adjusting nut sets play, it does not clamp",
    "hose clamp": "a clamp is tightened to its hose",
    "oil filter": "an oil filter is tightened to its ring",
}

# The most any of these takes: N·m for each millimetre of its thread, and at all. Judged by us from motorcycles.
MOST_NM: dict[FastenerKind, tuple[float, float]] = {
    "plug": (6, 120),
    "hollow bolt": (6, 80),
    "spark plug": (3, 45),
    "adjusting nut": (8, 200),
    "hose clamp": (2, 12),
    "oil filter": (2, 50),
}

# Least and most friction, thread and head alike. VDI 2230-1 Table A5 classes B and C; from memory.
FRICTION: dict[str, tuple[float, float]] = {
    "dry": (0.10, 0.24),
    "oiled": (0.08, 0.16),
    "locking compound": (0.08, 0.20),
    "": (0.08, 0.24),
}
REAL_YIELD = 1.1  # bolts are stronger than the least of their class; common practice, no source
REAL_TENSILE = 1.1  # the same
# Below this share of the torque at 90 % of yield a joint hardly clamps; common practice, no source.
# Axles are thick for bending: their nuts use little of their thread.
HARDLY = 0.2
HARDLY_AXLE = 0.06  # the same


@dataclass(frozen=True)
class Joint:
    """What is known of a fastener: None for what nobody said. ``engaged_mm``: the length screwed in."""

    thread: Thread
    bolt: PropertyClass | None = None
    into: Material | None = None
    engaged_mm: float | None = None
    kind: FastenerKind = "bolt"
    treatment: str = ""

    @property
    def name(self) -> str:
        """Example: ``an M6 8.8``; without a class ``an M6``."""
        return f"an {self.thread.name}" + (f" {self.bolt.name}" if self.bolt else "")


@dataclass(frozen=True)
class Judgement:
    """How a torque stands to its thread; ``slips`` would explain it; ``words`` say it whole."""

    outcome: Outcome
    words: str
    slips: tuple[str, ...] = ()

    @property
    def doubtful(self) -> bool:
        """Whether somebody should look again."""
        return self.outcome not in ("fits", "no verdict")


def friction_of(treatment: str) -> tuple[float, float]:
    """Least and most friction for what the thread is treated with, in words of the trade."""
    said = treatment.casefold()
    if "dry" in said:
        return FRICTION["dry"]
    if "lock" in said:
        return FRICTION["locking compound"]
    if any(word in said for word in ("oil", "grease", "paste", "lubric", "anti-seize")):
        return FRICTION["oiled"]
    return FRICTION[""]


def judge_torque(amount: Amount, joint: Joint, *, stage: bool = False) -> Judgement:
    """Hold an entered torque against its thread.

    ``stage``: it is not the last one, so it may be as low as it likes.
    """
    if joint.kind in NO_VERDICT:
        return judge_tightness(amount, joint.kind, joint.thread)
    outcome = _outcome(amount.value, joint, stage=stage)
    if outcome is None:
        return Judgement("fits", _fits(joint))
    explained = slips(amount, lambda value: _outcome(value, joint) is None)
    return Judgement(outcome, _words(amount, joint, outcome, explained), explained)


def judge_tightness(amount: Amount, kind: FastenerKind, thread: Thread | None) -> Judgement:
    """Hold a torque against the most that a fastener of a kind in `NO_VERDICT` takes, whatever its thread bears."""
    per_mm, most = MOST_NM[kind]
    if thread is not None:
        most = min(most, per_mm * thread.diameter_mm)
    if amount.value <= most:
        return Judgement("no verdict", f"Not judged by its thread: {NO_VERDICT[kind]}.")
    explained = slips(amount, lambda value: value <= most)
    what = f"{thread.name} " if thread else ""
    tried = f" It would fit {', or '.join(explained)}." if explained else ""
    again = "look again at thread, unit and decimal point"
    words = f"{amount.understood} is far too tight for any {what}{kind}: {NO_VERDICT[kind]}; {again}.{tried}"
    return Judgement("far too tight", words, explained)


def strongest_of(joint: Joint) -> str:
    """The strongest class a fastener of unknown class may be; axles are of plain steel (common practice)."""
    return "8.8" if joint.kind == "axle" else STRONGEST


def strips_at_nm(joint: Joint) -> float | None:
    """The least torque that surely strips the thread; None where material or engagement is not known."""
    if joint.into is None or joint.engaged_mm is None:
        return None
    force = strips_at_n(joint.thread, joint.engaged_mm, _strongest(joint), joint.into)
    return torque_nm(joint.thread, force, _most(joint))


def stretches_at_nm(joint: Joint) -> float:
    """The least torque that surely takes the bolt past its yield."""
    return assembly_torque_nm(joint.thread, _strongest(joint), _most(joint), REAL_YIELD)


def breaks_at_nm(joint: Joint) -> float:
    """The least torque that surely breaks the bolt: the whole tensile strength used."""
    most = _most(joint)
    force = preload_n(joint.thread, _strongest(joint).tensile_mpa, most.thread, REAL_TENSILE)
    return torque_nm(joint.thread, force, most)


def hardly_clamps_below_nm(joint: Joint) -> float:
    """The torque below which the joint hardly clamps."""
    bolt = joint.bolt or bolt_class(WEAKEST, joint.thread.diameter_mm)
    least = friction_of(joint.treatment)[0]
    share = HARDLY_AXLE if joint.kind == "axle" else HARDLY
    return share * assembly_torque_nm(joint.thread, bolt, Friction(least, least))


def _strongest(joint: Joint) -> PropertyClass:
    """Its class, else the strongest that it may be."""
    return joint.bolt or bolt_class(strongest_of(joint), joint.thread.diameter_mm)


def _most(joint: Joint) -> Friction:
    most = friction_of(joint.treatment)[1]
    return Friction(most, most)


def _outcome(torque: float, joint: Joint, *, stage: bool = False) -> Finding | None:
    if torque > breaks_at_nm(joint):
        return "would break"
    if torque > (strips_at_nm(joint) or math.inf):
        return "would strip"
    if torque > stretches_at_nm(joint):
        return "would stretch"
    if torque < hardly_clamps_below_nm(joint) and not stage:
        return "hardly clamps"
    return None


def _fits(joint: Joint) -> str:
    unsaid = [
        what
        for what, known in (
            ("its class", joint.bolt),
            ("what it is screwed into", joint.into),
            ("how deep", joint.engaged_mm),
        )
        if known is None
    ]
    rough = f" The book does not say {', '.join(unsaid)}: a rough check." if unsaid else ""
    return f"No slip to be seen for {joint.name}.{rough}"


def _words(amount: Amount, joint: Joint, outcome: Finding, explained: tuple[str, ...]) -> str:
    what = {
        "would break": "would break",
        "would stretch": "would stretch for good",
        "would strip": "would strip the thread of",
        "hardly clamps": "would hardly clamp with",
    }[outcome]
    tried = f" It would fit {', or '.join(explained)}." if explained else ""
    joint_words = f"{joint.name}{_assumed(joint, outcome)}"
    again = "look again at thread, unit and decimal point"
    return f"{amount.understood} {what} {joint_words}; {again}.{tried}"


def _assumed(joint: Joint, outcome: Finding) -> str:
    """What the verdict rests on besides the name."""
    if outcome == "would strip" and joint.into is not None and joint.engaged_mm is not None:
        return f", {joint.engaged_mm:g} mm deep in {joint.into.name}"
    if joint.bolt is not None or outcome == "hardly clamps":
        return ""
    return f", even of class {strongest_of(joint)}"
