"""What tired, hurried or hostile hands send in place of a value."""

import random
from typing import Any

TEXTS = (
    "", " ", "x", "-1", "0", "1e308", "-1e308", "1e400", "Infinity", "NaN", "9" * 5000, "0.1", "1,234", "٣", "²",
    "9999-12-31", "0001-01-01", "9999-12-31T23:59+14:00", "2026-02-30", "24:61", "x" * 100_000, "../../x", "a\x00b",
    "\ud800", "<b>&amp;'\"", "{}", "[" * 5000, "null", "None", "true", "fastener/wheel_bolts/1", "x/y/z", "💡",
    "\u202e",
    "018f0000-0000-7000-8000-000000000000", '{"a":1}', "1 N·m", "-5 mm", "1e309 km", "60 Nm\n70 Nm", "%00", "0x10",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    *TEXTS, 0, -1, 1, 0.25, 1e308, float("inf"), float("nan"), 10**400, True, None, [], {}, [[]], {"x": {}},
    ["x"] * 2000,
)  # fmt: skip


def mutated(data: Any, chance: random.Random) -> Any:
    """Plain data with one to three of its places changed, taken out, doubled or put in."""
    for _ in range(chance.randint(1, 3)):
        data = _changed(data, chance)
    return data


def _changed(data: Any, chance: random.Random) -> Any:
    if isinstance(data, dict) and data and chance.random() > 0.1:
        return _table_changed(data, chance)
    if isinstance(data, list) and data and chance.random() > 0.1:
        return _list_changed(data, chance)
    return chance.choice(VALUES)


def _table_changed(data: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    key, how = chance.choice(list(data)), chance.random()
    if how < 0.1:
        return {k: v for k, v in data.items() if k != key}
    if how < 0.2:
        return data | {chance.choice(("", "x", str(key) + "x", "a\x00", "9" * 300)): data[key]}
    return data | {key: _changed(data[key], chance)}


def _list_changed(data: list[Any], chance: random.Random) -> list[Any]:
    place, how = chance.randrange(len(data)), chance.random()
    if how < 0.1:
        return data[:place] + data[place + 1 :]
    if how < 0.2:
        return data + [data[place]] * chance.choice((1, 3, 1500))
    return [*data[:place], _changed(data[place], chance), *data[place + 1 :]]
