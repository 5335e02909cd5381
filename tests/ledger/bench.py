"""A small invented book and a bench with several devices to make entries at."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta, timezone
from functools import cache

from witnessmark.book.model import Book
from witnessmark.ledger.effects import effects
from witnessmark.ledger.entry import Entry, compose
from witnessmark.ledger.fold import visit_state


@cache
def name(text: str) -> str:
    return str(uuid.uuid5(uuid.NAMESPACE_OID, text))


SHOP, VISIT, WRENCH = name("shop"), name("visit"), name("wrench")
ANN, BO, OWNER = name("technician ann"), name("helper bo"), name("owner")
PLAN, ESTIMATE, SIGNATURE = "a" * 64, "b" * 64, "c" * 64

SOURCE = {"source": "invented manual, page 1"}
BOOK = Book.model_validate(
    {
        "format": 1,
        "name": "invented_tourer",
        "title": "Invented tourer",
        "invented": True,
        "figures": {
            "wheel_torque": {"text": "wheel bolts", "quantity": "torque", "value": "60 Nm"}
            | SOURCE,
            "drain_torque": {"text": "drain plug", "quantity": "torque", "value": "25 Nm"} | SOURCE,
            "rack_torque": {"text": "rack screws", "quantity": "torque"},
            "drive_fill": {"text": "drive oil", "quantity": "volume", "value": "180 ml"},
            "pad_least": {"text": "least pad", "quantity": "length", "value": "2 mm"} | SOURCE,
        },
        "conditions": {
            "wheel": {
                "text": "rear wheel",
                "states": ["fitted", "off"],
                "start": "fitted",
                "finish": "fitted",
            },
            "pannier": {
                "text": "pannier",
                "states": ["on", "off"],
                "start": "on",
                "finish": "as found",
                "asked": "Pannier on?",
            },
            "engine": {
                "text": "engine",
                "states": ["cold", "warm"],
                "start": "cold",
                "finish": "cold",
                "lapse": {"warm": {"after": 120, "to": "cold"}},
            },
        },
        "access": {
            "wheel_off": {
                "text": "take the rear wheel off",
                "minutes": 5,
                "place": "rear",
                "needs": {"wheel": ["fitted"]},
                "sets": {"wheel": "off"},
                "loosens": ["wheel_bolts"],
            },
            "wheel_on": {
                "text": "put the rear wheel on",
                "minutes": 5,
                "place": "rear",
                "needs": {"wheel": ["off"]},
                "sets": {"wheel": "fitted"},
                "snugs": ["wheel_bolts"],
            },
            "pannier_off": {
                "text": "take the pannier off",
                "minutes": 1,
                "sets": {"pannier": "off"},
            },
            "pannier_on": {"text": "put the pannier on", "minutes": 1, "sets": {"pannier": "on"}},
            "warm_up": {"text": "warm the engine", "minutes": 5, "sets": {"engine": "warm"}},
        },
        "jobs": {
            "drive_oil": {
                "text": "drive oil",
                "operations": {
                    "drain": {
                        "text": "drain the drive",
                        "minutes": 5,
                        "unattended": 10,
                        "waits_for": "oil runs out",
                        "place": "rear, right side",
                        "loosens": ["drain_plug"],
                        "disturbs": ["drain_ring"],
                        "opens": {"drive": ["all"]},
                        "readings": ["magnet"],
                    },
                    "fill": {
                        "text": "fill the drive",
                        "minutes": 5,
                        "place": "rear, right side",
                        "tightens": ["drain_plug"],
                        "renews": ["drain_ring"],
                        "closes": {"drive": ["filled", "level"]},
                        "fluids": {"gear_oil": {"figure": "drive_fill"}},
                    },
                    "wheel_tight": {
                        "text": "make the wheel tight",
                        "minutes": 3,
                        "place": "rear",
                        "tightens": ["wheel_bolts"],
                    },
                },
            },
            "brake": {
                "text": "rear brake",
                "operations": {
                    "push_back": {
                        "text": "push the pads back",
                        "minutes": 3,
                        "opens": {"rear_brake": ["all"]},
                        "readings": ["pad"],
                    },
                    "pump": {
                        "text": "pump the lever firm",
                        "minutes": 1,
                        "closes": {"rear_brake": ["lever_firm"]},
                        "second_look": True,
                    },
                    "after_ride": {
                        "text": "look at disc and hub after the ride",
                        "minutes": 1,
                        "closes": {"rear_brake": ["heat"]},
                    },
                },
            },
            "hold": {
                "text": "hold",
                "operations": {
                    "hold": {
                        "text": "hold the lever under pressure",
                        "minutes": 1,
                        "unattended": 15,
                        "waits_for": "lever held",
                        "shown_by_waiting": True,
                        "closes": {"rear_brake": ["lever_firm"]},
                    },
                },
            },
            "linings": {
                "text": "brake linings",
                "early": ["lining"],
                "operations": {
                    "measure": {
                        "text": "measure the linings",
                        "minutes": 2,
                        "readings": ["lining"],
                    },
                    "renew": {
                        "text": "fit new linings",
                        "minutes": 9,
                        "opens": {"rear_brake": ["all"]},
                        "readings": ["lining"],
                    },
                },
            },
            "ride": {
                "text": "ride after",
                "operations": {"ride": {"text": "ride it", "minutes": 10, "gate": "road test"}},
            },
            "covers": {
                "text": "covers",
                "operations": {
                    "off": {
                        "text": "covers off",
                        "minutes": 2,
                        "loosens": ["screws", "rack", "nut"],
                    },
                    "on": {
                        "text": "covers on",
                        "minutes": 2,
                        "tightens": ["screws", "rack", "nut"],
                        "disturbs": ["lock_nut"],
                        "renews": ["lock_nut"],
                    },
                    "turn": {
                        "text": "loosen and tighten the nut",
                        "minutes": 2,
                        "loosens": ["nut"],
                        "tightens": ["nut"],
                    },
                },
            },
        },
        "fasteners": {
            "wheel_bolts": {
                "text": "wheel bolt",
                "count": 5,
                "figure": "wheel_torque",
                "sequence": "star",
                "safety": True,
                "second_look": True,
            },
            "drain_plug": {"text": "drain plug", "figure": "drain_torque", "safety": True},
            "screws": {"text": "cover screw", "count": 4, "grade": "counted"},
            "rack": {
                "text": "rack screw",
                "count": 2,
                "figure": "rack_torque",
                "grade": "by table",
            },
            "nut": {"text": "cover nut", "figure": "drain_torque"},
        },
        "circuits": {
            "drive": {
                "text": "drive",
                "fluid": "gear_oil",
                "safety": True,
                "closed_by": {
                    "filled": {"text": "filled", "gate": "starter"},
                    "level": {"text": "level read upright"},
                },
            },
            "rear_brake": {
                "text": "rear brake",
                "safety": True,
                "closed_by": {
                    "lever_firm": {"text": "lever firm", "gate": "wheels on the ground"},
                    "heat": {"text": "disc and hub cool after the ride", "ride": True},
                },
            },
        },
        "renewals": {
            "drain_ring": {"text": "drain plug sealing ring", "part": "ring"},
            "lock_nut": {"text": "self-locking nut", "part": "nut", "reuse": True},
        },
        "parts": {"ring": {"text": "sealing ring"}, "nut": {"text": "self-locking nut"}},
        "fluids": {"gear_oil": {"text": "gear oil", "family": "gear oil"}},
        "readings": {
            "pad": {
                "text": "pad thickness",
                "quantity": "length",
                "unit": "mm",
                "low": "pad_least",
            },
            "lining": {
                "text": "lining",
                "quantity": "length",
                "unit": "mm",
                "low": "pad_least",
                "safety": True,
            },
            "magnet": {
                "text": "magnet",
                "quantity": "words",
                "choices": ["clean", "paste", "chips"],
                "bad": ["chips"],
            },
        },
    }
)
TABLE = effects(BOOK, list(BOOK.jobs))
ZONE = timezone(timedelta(hours=2))


class Bench:
    """Makes entries at devices; unless told otherwise each entry has seen all before it."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []
        self.newest: dict[str, Entry] = {}  # of each device
        self.made = 0

    def say(
        self, kind: str, device: str = "tablet", author: str = ANN, blind: bool = False, **body
    ):
        """Record one entry. ``blind``: the device has seen no new entry of any other device."""
        mine = self.newest.get(name(device))
        seen: dict[str, int] = dict(mine.seen) if mine else {}
        if not blind:
            seen |= {device: entry.seq for device, entry in self.newest.items()}
        self.made += 1
        entry = compose(
            kind,
            body,
            shop=SHOP,
            visit=VISIT,
            device=name(device),
            author=author,
            at=datetime(2026, 5, 4, 9, tzinfo=ZONE) + timedelta(minutes=self.made),
            previous=mine,
            seen=seen,
            entry_id=f"018f0000-0000-7000-8000-{self.made:012x}",
        )
        self.entries.append(entry)
        self.newest[entry.device] = entry
        return entry

    def done(self, step: str, **more):
        return self.say("done", step=step, **more)

    def tight(self, fastener: str, index: int = 1, **more):
        wrench = {"wrench": WRENCH, "wrench_proven": True}
        return self.say("tightened", fastener=fastener, index=index, **(wrench | more))

    def tight_wheel(self, *indices: int, **more) -> None:
        how = {"set_nm": 60, "clicked": True, "step": "drive_oil/wheel_tight"}
        for i in indices or range(1, 6):
            self.tight("wheel_bolts", i, **(how | more))

    def state(self, table=TABLE):
        return visit_state(self.entries, table)

    def open(self, *kinds: str) -> set[str]:
        """The ids of open items, of these kinds (the first word) if any are named."""
        items = self.state().items.values()
        return {i.id for i in items if not kinds or i.kind in kinds}


def sealed_at(minute: int) -> datetime:
    return datetime(2026, 5, 4, 7, tzinfo=UTC) + timedelta(minutes=minute)
