"""Words of the standards for trouble codes. Generic categories only: no maker's own texts.

Sources: letters and digits SAE J2012 / ISO 15031-6; failure types SAE J2012-DA / ISO 15031-6 (seen in public lists of
the subtypes, secondary); status bits ISO 14229-1 Annex D.2; answers ISO 14229-1 clause 11.3 and ISO 15031-5.
"""

from __future__ import annotations

SYSTEMS = {"P": "powertrain", "C": "chassis", "B": "body", "U": "network"}
LETTERS = "PCBU"  # the two highest bits: 00, 01, 10, 11

# SAE J2012, groups of the generic powertrain codes by their second and third sign (from memory).
POWERTRAIN = {
    "00": "fuel and air metering, auxiliary emission controls", "01": "fuel and air metering",
    "02": "fuel and air metering, injector circuits", "03": "ignition or misfire",
    "04": "auxiliary emission controls", "05": "vehicle speed, idle control, auxiliary inputs",
    "06": "control unit and auxiliary outputs", "07": "transmission", "08": "transmission", "09": "transmission",
    "0A": "hybrid drive", "0B": "hybrid drive", "0C": "hybrid drive",
    "20": "fuel and air metering, auxiliary emission controls",
    "21": "fuel and air metering, auxiliary emission controls",
    "22": "fuel and air metering, auxiliary emission controls", "23": "ignition or misfire",
    "24": "auxiliary emission controls", "25": "auxiliary inputs", "26": "control unit and auxiliary outputs",
    "27": "transmission",
}  # fmt: skip
NETWORK = {
    "00": "wiring of the network", "01": "communication with a control unit", "02": "communication with a control unit",
    "03": "software that does not match", "04": "data received that cannot be right",
}  # fmt: skip

# SAE J2012-DA / ISO 15031-6, seen in public lists.
FAILURE_GROUPS = {
    0x0: "general", 0x1: "electrical", 0x2: "signal", 0x3: "pulse signal", 0x4: "control unit inside",
    0x5: "programming", 0x6: "computed from several signals", 0x7: "mechanical", 0x8: "message on the network",
    0x9: "component", 0xF: "the maker's own",
}  # fmt: skip

# The same.
FAILURES = {
    0x00: "no subtype information", 0x01: "general electrical failure", 0x02: "general signal failure",
    0x03: "frequency or pulse width failure", 0x04: "system internal failure", 0x05: "system programming failure",
    0x06: "algorithm based failure", 0x07: "mechanical failure", 0x08: "bus signal or message failure",
    0x09: "component failure",
    0x11: "circuit short to ground", 0x12: "circuit short to battery", 0x13: "circuit open",
    0x14: "circuit short to ground or open", 0x15: "circuit short to battery or open",
    0x16: "circuit voltage below threshold", 0x17: "circuit voltage above threshold",
    0x18: "circuit current below threshold", 0x19: "circuit current above threshold",
    0x1A: "circuit resistance below threshold", 0x1B: "circuit resistance above threshold",
    0x1C: "circuit voltage out of range", 0x1D: "circuit current out of range",
    0x1E: "circuit resistance out of range", 0x1F: "circuit intermittent",
    0x21: "signal amplitude below minimum", 0x22: "signal amplitude above maximum", 0x23: "signal stuck low",
    0x24: "signal stuck high", 0x25: "signal shape or waveform failure",
    0x26: "signal rate of change below threshold", 0x27: "signal rate of change above threshold",
    0x28: "signal bias out of range, or zero adjustment failure", 0x29: "signal invalid",
    0x2A: "signal stuck in range", 0x2B: "signals cross coupled", 0x2F: "signal erratic",
    0x31: "no signal", 0x32: "signal low time below minimum", 0x33: "signal low time above maximum",
    0x34: "signal high time below minimum", 0x35: "signal high time above maximum",
    0x36: "signal frequency too low", 0x37: "signal frequency too high", 0x38: "signal frequency incorrect",
    0x39: "too few pulses", 0x3A: "too many pulses",
    0x41: "general checksum failure", 0x42: "general memory failure", 0x43: "special memory failure",
    0x44: "data memory failure", 0x45: "program memory failure", 0x46: "calibration memory failure",
    0x47: "watchdog or safety controller failure", 0x48: "supervision software failure",
    0x49: "internal electronic failure", 0x4A: "incorrect component installed", 0x4B: "over temperature",
    0x51: "not programmed", 0x52: "not activated", 0x53: "deactivated", 0x54: "missing calibration",
    0x55: "not configured", 0x56: "invalid or incompatible configuration",
    0x57: "invalid or incompatible software component",
    0x61: "signal calculation failure", 0x62: "signal compare failure",
    0x63: "circuit or component protection time-out", 0x64: "signal plausibility failure",
    0x65: "signal has too few transitions or events", 0x66: "signal has too many transitions or events",
    0x67: "signal incorrect after event", 0x68: "event information",
    0x71: "actuator stuck", 0x72: "actuator stuck open", 0x73: "actuator stuck closed", 0x74: "actuator slipping",
    0x75: "emergency position not reachable", 0x76: "wrong mounting position",
    0x77: "commanded position not reachable", 0x78: "alignment or adjustment incorrect",
    0x79: "mechanical linkage failure", 0x7A: "fluid leak or seal failure", 0x7B: "low fluid level",
    0x81: "invalid serial data received", 0x82: "alive or sequence counter incorrect or not updated",
    0x83: "value of signal protection calculation incorrect", 0x84: "signal below allowable range",
    0x85: "signal above allowable range", 0x86: "signal invalid", 0x87: "missing message", 0x88: "bus off",
    0x8F: "erratic",
    0x91: "parametric", 0x92: "performance or incorrect operation", 0x93: "no operation",
    0x94: "unexpected operation", 0x95: "incorrect assembly", 0x96: "component internal failure",
    0x97: "operation obstructed or blocked", 0x98: "over temperature", 0x9A: "operating conditions",
}  # fmt: skip

# ISO 14229-1 Annex D.2, bit 0 first: name, what it means at the bench.
STATUS_BITS: tuple[tuple[str, str], ...] = (
    ("testFailed", "failing at its last test"),
    ("testFailedThisOperationCycle", "failed in this operation cycle"),
    ("pendingDTC", "pending: failed in this cycle or the one before"),
    ("confirmedDTC", "confirmed and stored"),
    ("testNotCompletedSinceLastClear", "not tested to the end since the codes were cleared"),
    ("testFailedSinceLastClear", "failed at least once since the codes were cleared"),
    ("testNotCompletedThisOperationCycle", "not tested to the end in this operation cycle"),
    ("warningIndicatorRequested", "asks for the warning lamp"),
)
NOT_TESTED = 0x10  # ISO 14229-1 Annex D.2: testNotCompletedSinceLastClear
THERE = (
    0x01 | 0x02 | 0x04 | 0x08 | 0x20 | 0x80
)  # ISO 14229-1 Annex D.2; with none of these a code is listed, but not there

# ISO 15031-5 (SAE J1979): positive answer = service + 40 hex.
STORED, PENDING, PERMANENT, CLEARED = 0x43, 0x47, 0x4A, 0x44
OBD_LISTS = {
    STORED: "stored codes (service 03)",
    PENDING: "pending codes (service 07)",
    PERMANENT: "permanent codes (service 0A)",
}

# ISO 14229-1 service 19 by sub-function: those whose answer is a list of code and status.
READ, READ_CLEARED = 0x59, 0x54
# The same.
STATUS_LISTS = {
    0x02: "codes by status", 0x0A: "all codes the unit knows", 0x0B: "first code failed",
    0x0C: "first code confirmed", 0x0D: "newest code failed", 0x0E: "newest code confirmed",
    0x0F: "mirror memory by status", 0x13: "emission codes by status", 0x15: "permanent codes",
    0x17: "a unit's own memory by status",
}  # fmt: skip
COUNTS = (0x01, 0x07, 0x11, 0x12)  # the same
SEVERITY_LISTS = (0x08, 0x09)  # the same
CODE_FORMATS = {
    0x00: "SAE J2012-DA, format 00", 0x01: "ISO 14229-1", 0x02: "SAE J1939-73", 0x03: "ISO 11992-4",
    0x04: "SAE J2012-DA, format 04",
}  # fmt: skip

# ISO 14229-1 Annex A.1, the refusals that occur when codes are read or cleared.
REFUSALS = {
    0x10: "refused, no reason given", 0x11: "the unit does not know this service",
    0x12: "the unit does not know this sub-function", 0x13: "wrong length of the request",
    0x14: "the answer is too long for it", 0x21: "busy, ask again", 0x22: "conditions not right",
    0x31: "asked for something it does not have", 0x33: "security access denied",
    0x72: "failed while writing or clearing", 0x78: "working on it, the answer follows",
    0x7E: "not in this session", 0x7F: "not in this session",
}  # fmt: skip
