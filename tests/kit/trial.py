"""A small book and plans of it, for the kit and for prices."""

from witnessmark.book.model import Book
from witnessmark.kit import Pack
from witnessmark.planner import Answer, PlanStep


def figure(text, quantity, value, source="Manual p. 1"):
    return {"text": text, "quantity": quantity, "value": value, "source": source}


BOOK = Book(
    format=1,
    name="trial",
    title="Trial",
    figures={
        "oil": figure("Engine oil, filling", "volume", "4.5 L"),
        "drive_oil": figure("Final drive, filling", "volume", "180 mL", None),
        "oil_grade": figure("Engine oil, grade", "words", "SAE 10W-40, for wet clutches"),
        "fork_oil": figure("Fork, filling", "volume", None),
    },
    conditions={"pan": {"text": "Drain pan", "states": ["away", "under"], "start": "away"}},
    access={
        "pan_under": {
            "text": "Pan under",
            "minutes": 1,
            "sets": {"pan": "under"},
            "tools": ["pan"],
            "parts": {"rag": 1},
        }
    },
    jobs={
        "engine_oil": {
            "text": "Engine oil",
            "operations": {
                "drain": {
                    "text": "Drain",
                    "minutes": 5,
                    "tools": ["key", "pan"],
                    "renews": ["ring"],
                },
                "close": {
                    "text": "Close",
                    "minutes": 2,
                    "renews": ["ring"],
                    "parts": {"ring": 2, "filter": 1},
                },
                "fill": {
                    "text": "Fill",
                    "minutes": 4,
                    "fluids": {"oil": {"figure": "oil", "stage": "first", "hold_back": "1 L"}},
                },
                "top": {
                    "text": "Top up",
                    "minutes": 2,
                    "readings": ["level"],
                    "fluids": {"oil": {"figure": "oil", "stage": "top up", "hold_back": "1 L"}},
                },
            },
        },
        "drive_oil": {
            "text": "Final drive oil",
            "operations": {
                "fill": {
                    "text": "Fill",
                    "minutes": 6,
                    "tools": ["key"],
                    "fluids": {"gear": {"figure": "drive_oil", "syringe": "60 mL"}},
                }
            },
        },
        "fork": {
            "text": "Fork oil",
            "operations": {
                "fill": {"text": "Fill", "minutes": 9, "fluids": {"fork": {"figure": "fork_oil"}}}
            },
        },
    },
    fluids={
        "oil": {"text": "Engine oil", "family": "engine oil", "grade": "oil_grade"},
        "gear": {"text": "Gear oil", "family": "gear oil"},
        "fork": {"text": "Fork oil", "family": "fork oil"},
    },
    parts={
        "ring": {"text": "Sealing ring"},
        "filter": {"text": "Oil filter"},
        "rag": {"text": "Rag", "consumable": True},
    },
    renewals={"ring": {"text": "Ring", "part": "ring"}},
    tools={"key": {"text": "Hex key 8"}, "pan": {"text": "Drain pan"}},
    readings={
        "level": {
            "text": "Level",
            "quantity": "words",
            "instrument": "Dipstick",
            "choices": ["expected", "low"],
        }
    },
)


def plan(*names):
    return Answer(
        status="optimal",
        steps=[
            PlanStep(
                name=name,
                kind="operation",
                start=10.0 * place,
                end=10.0 * place + 5,
                tail_end=10.0 * place + 5,
            )
            for place, name in enumerate(names)
        ],
    )


OIL_1, OIL_4 = Pack("oil", 1000, "Oil 1 L", 1200, 3), Pack("oil", 4000, "Oil 4 L", 4000, 1)
GEAR = Pack("gear", 500, "Gear oil 0.5 L", 900)
