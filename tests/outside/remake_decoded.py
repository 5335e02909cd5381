"""Make `data/decoded.json` again: what general libraries say of identification numbers, codes and status bytes.

    uv run --no-project --with vininfo==1.11.0 --with scapy==2.8.0 --with udsoncan==1.26.1 \
        python tests/outside/remake_decoded.py

The libraries are not installed for the tests: one is large, and their licences need not concern the tests.
"""

import hashlib
import json
import random
from pathlib import Path

import udsoncan
import vininfo
from scapy.contrib.automotive.obd.services import OBD_DTC
from udsoncan.services import ReadDTCInformation

SIGNS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
STATUS = (
    "test_failed", "test_failed_this_operation_cycle", "pending", "confirmed", "test_not_completed_since_last_clear",
    "test_failed_since_last_clear", "test_not_completed_this_operation_cycle", "warning_indicator_requested",
)  # fmt: skip
ANSWERS = (
    "5902FF0A9B1724080511 2F", "59027F", "5902FF", "590A2F1234560812345709", "59012F010001", "590709010100",
)  # fmt: skip


def numbers() -> dict[str, bool]:
    """Numbers by chance, half of them with a right check digit, and the library's verdict on each."""
    chance = random.Random(565)
    made = {}
    for n in range(400):
        signs = [chance.choice(SIGNS) for _ in range(17)]
        signs[9] = chance.choice(
            "ABCDEFGHJKLMNPRSTVWXY123456789"
        )  # the library refuses others there
        signs[8] = chance.choice("0123456789X")
        number = "".join(signs)
        if n % 2:
            number = next(
                number[:8] + digit + number[9:]
                for digit in "0123456789X"
                if vininfo.Vin(number[:8] + digit + number[9:]).verify_checksum()
            )
        made[number] = vininfo.Vin(number).verify_checksum()
    return made


def countries() -> dict[str, str]:
    """The country of every pair of first characters that the library knows."""
    return {
        a + b: country
        for a in SIGNS
        for b in SIGNS
        if (country := vininfo.Vin(f"{a}{b}A00000000000000").country) not in (None, "", "Unknown")
    }


def codes() -> str:
    """One hash over the text of all 65536 two-byte codes, a line each."""
    return hashlib.sha256("\n".join(map(code, range(0x10000))).encode()).hexdigest()


def code(value: int) -> str:
    """The text of one code, its letter from the system that the library names."""
    read = OBD_DTC(value.to_bytes(2, "big"))
    letter = {"Powertrain": "P", "Chassis": "C", "Body": "B", "Network": "U"}[
        OBD_DTC.locations[read.location]
    ]
    return f"{letter}{read.code1:X}{read.code2:X}{read.code3:X}{read.code4:X}"


def statuses() -> list[list[str]]:
    """The bits set of every status byte, by the library's names."""
    return [
        [name for name in STATUS if getattr(udsoncan.Dtc.Status.from_byte(byte), name)]
        for byte in range(256)
    ]


def answers() -> dict[str, object]:
    """Answers of service 19: count, and codes with their status."""
    made = {}
    for text in ANSWERS:
        data = bytes.fromhex(text)
        response = udsoncan.Response(ReadDTCInformation, 0, data[1:])
        told = ReadDTCInformation.interpret_response(response, data[1]).service_data
        listed = [[dtc.id, dtc.status.get_byte_as_int()] for dtc in told.dtcs]
        made[data.hex()] = {"count": told.dtc_count, "listed": listed}
    return made


if __name__ == "__main__":
    made = {
        "numbers": numbers(), "countries": countries(), "codes": codes(), "statuses": statuses(), "answers": answers(),
    }  # fmt: skip
    target = Path(__file__).parent / "data" / "decoded.json"
    lines = ",\n".join(f"{json.dumps(key)}: {json.dumps(value)}" for key, value in made.items())
    target.write_text(f"{{\n{lines}\n}}\n", encoding="utf-8")
