"""Torque tools: what each can set, what it may deviate, when it is checked, and what it proved.

Torques are floats in newton metres (``torque_nm``), lengths in millimetres, shares as fractions of one.
A deviation is (shown − true) / true, as ISO 6789-1 counts it: above 0 the fastener got less than was shown.
"""

from witnessmark.days import day
from witnessmark.wrenches.adapters import Adapter, CrowFoot, Setting, delivered, set_on, setting
from witnessmark.wrenches.doubt import Doubted, TrueTorque, doubted, true_torque
from witnessmark.wrenches.lever import GRAVITY, Lever, LeverTorque, lever_torque, mass_for
from witnessmark.wrenches.standard import CLASSES, ToolClass, check_points, permitted_deviation
from witnessmark.wrenches.status import ToolStatus, tool_status
from witnessmark.wrenches.suits import Fit, Reason, ranked, suits
from witnessmark.wrenches.tool import (
    Check,
    Dropped,
    Loan,
    Point,
    TorqueTool,
    WrenchError,
    found_wrong,
    is_good,
    last_renewal,
    permitted,
    renews,
    verdict,
)
from witnessmark.wrenches.words import per_cent

__all__ = [
    "CLASSES",
    "GRAVITY",
    "Adapter",
    "Check",
    "CrowFoot",
    "Doubted",
    "Dropped",
    "Fit",
    "Lever",
    "LeverTorque",
    "Loan",
    "Point",
    "Reason",
    "Setting",
    "ToolClass",
    "ToolStatus",
    "TorqueTool",
    "TrueTorque",
    "WrenchError",
    "check_points",
    "day",
    "delivered",
    "doubted",
    "found_wrong",
    "is_good",
    "last_renewal",
    "lever_torque",
    "mass_for",
    "per_cent",
    "permitted",
    "permitted_deviation",
    "ranked",
    "renews",
    "set_on",
    "setting",
    "suits",
    "tool_status",
    "true_torque",
    "verdict",
]
