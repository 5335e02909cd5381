"""Threads, classes, preload and torque: what tells whether an entered torque can be right."""

from witnessmark.fasteners.drives import Drive, across_corners_mm, across_flats_mm, drives_of
from witnessmark.fasteners.errors import FastenerError
from witnessmark.fasteners.plausible import (
    NO_VERDICT,
    FastenerKind,
    Joint,
    Judgement,
    friction_of,
    judge_tightness,
    judge_torque,
)
from witnessmark.fasteners.star import star
from witnessmark.fasteners.strength import (
    CLASSES,
    MATERIALS,
    NUTS,
    UP_TO_16_MM,
    Material,
    PropertyClass,
    bolt_class,
    least_ultimate_load_n,
    marking,
    material,
    proof_load_n,
)
from witnessmark.fasteners.threads import Thread, read_thread, threads
from witnessmark.fasteners.tightening import (
    Friction,
    assembly_torque_nm,
    needed_engagement_mm,
    preload_n,
    preload_of_torque_n,
    strips_at_n,
    torque_nm,
)

__all__ = [
    "CLASSES",
    "MATERIALS",
    "NO_VERDICT",
    "NUTS",
    "UP_TO_16_MM",
    "Drive",
    "FastenerError",
    "FastenerKind",
    "Friction",
    "Joint",
    "Judgement",
    "Material",
    "PropertyClass",
    "Thread",
    "across_corners_mm",
    "across_flats_mm",
    "assembly_torque_nm",
    "bolt_class",
    "drives_of",
    "friction_of",
    "judge_tightness",
    "judge_torque",
    "least_ultimate_load_n",
    "marking",
    "material",
    "needed_engagement_mm",
    "preload_n",
    "preload_of_torque_n",
    "proof_load_n",
    "read_thread",
    "star",
    "strips_at_n",
    "threads",
    "torque_nm",
]
