"""A small drawing for each choice of the build sheet: how a part of a machine looks to somebody in front of it."""

from __future__ import annotations

from collections.abc import Callable

from witnessmark.charts.drawing import box, circle, drawing, line, path
from witnessmark.charts.parts import (
    HEIGHT,
    WIDTH,
    arm,
    battery,
    bucket,
    carburettor,
    cylinder,
    disc,
    drop,
    drum,
    edge_discs,
    engine,
    flat,
    fork,
    in_line,
    links,
    machine,
    nut,
    pulleys,
    ring,
    spokes,
    spring,
    sump,
    tank,
    teeth,
    turned,
    valves,
    wheel,
)


def picture(name: str) -> str:
    """The drawing of a choice as SVG; empty where it needs none.

    `name`: folder and block, ``final_drive/chain``, or with option and choice behind it,
    ``final_drive/chain/link/clip``.
    """
    made = _PICTURES.get(name)
    return drawing("", WIDTH, HEIGHT, *made()) if made else ""


def drawn() -> set[str]:
    """The names of all drawings there are."""
    return set(_PICTURES)


_PICTURES: dict[str, Callable[[], list[str]]] = {
    "engine/four_stroke": lambda: [*engine(0), circle(40, 6, 4), circle(56, 6, 4)],
    "engine/two_stroke": lambda: [
        *engine(0),
        path([(58, 30), (70, 30), (76, 24), (86, 24), (86, 38), (76, 38), (70, 33), (58, 33)]),
    ],
    "engine/electric": lambda: [
        circle(48, 32, 24),
        path([(52, 14), (40, 34), (48, 34), (44, 50), (58, 28), (49, 28)], closed=True),
    ],
    "engine/four_stroke/built/single": lambda: engine(0),
    "engine/four_stroke/built/parallel twin": lambda: in_line(2),
    "engine/four_stroke/built/V-twin": lambda: engine(-28, 28),
    "engine/four_stroke/built/flat twin": lambda: engine(-90, 90, y=32, length=24),
    "engine/four_stroke/built/triple": lambda: in_line(3),
    "engine/four_stroke/built/four in line": lambda: in_line(4),
    "engine/four_stroke/built/V-four": lambda: [
        *engine(-38, 38, x=40),
        *cylinder(54, 48, -38),
        *cylinder(54, 48, 38),
    ],
    "engine/four_stroke/built/flat six": lambda: flat(3),
    "engine/two_stroke/built/single": lambda: engine(0),
    "engine/two_stroke/built/twin": lambda: in_line(2),
    "engine/two_stroke/oil/pump": lambda: [
        box(30, 8, 36, 26),
        drop(48, 22),
        line(48, 34, 48, 44),
        circle(48, 51, 7),
    ],
    "engine/two_stroke/oil/mixed": lambda: tank(drop(38, 32), drop(56, 32)),
    "valve_gear/bucket_shims": lambda: bucket(over=False),
    "valve_gear/bucket_shims/shims/under": lambda: bucket(over=False),
    "valve_gear/bucket_shims/shims/over": lambda: bucket(over=True),
    "valve_gear/screws": lambda: [
        path([(16, 30), (48, 16), (76, 26)], thick=4),
        circle(48, 18, 4),
        line(76, 12, 76, 36),
        box(71, 16, 10, 7),
        line(76, 40, 76, 60, thick=3),
        line(16, 34, 16, 60, thick=3),
    ],
    "valve_gear/rocker_shims": lambda: [
        path([(20, 34), (48, 18), (76, 30)], thick=4),
        circle(48, 18, 4),
        box(70, 36, 12, 5, filled=True),
        box(66, 44, 20, 16),
        circle(20, 46, 9),
    ],
    "valve_gear/hydraulic": lambda: [
        box(34, 8, 28, 30),
        spring((48, 14), (48, 34)),
        line(48, 38, 48, 60, thick=3),
        drop(18, 30),
    ],
    "valve_gear/rocker_shims/valves/four": lambda: valves(4),
    "valve_gear/rocker_shims/valves/eight": lambda: valves(8),
    "valve_gear/rocker_shims/valves/sixteen": lambda: valves(16),
    "valve_gear/bucket_shims/valves/four": lambda: valves(4),
    "valve_gear/bucket_shims/valves/eight": lambda: valves(8),
    "valve_gear/bucket_shims/valves/sixteen": lambda: valves(16),
    "valve_gear/screws/valves/two": lambda: valves(2),
    "valve_gear/screws/valves/four": lambda: valves(4),
    "valve_gear/screws/valves/eight": lambda: valves(8),
    "cooling/air": lambda: [
        box(36, 8, 24, 48),
        *(line(24, y, 72, y) for y in (16, 24, 32, 40, 48)),
    ],
    "cooling/liquid": lambda: [
        box(20, 10, 56, 44),
        *(line(x, 14, x, 50) for x in (28, 36, 44, 52, 60, 68)),
        line(64, 4, 70, 10, thick=4),
    ],
    "mixture/fuel": lambda: tank(line(48, 40, 48, 48), drop(48, 57)),
    "mixture/fuel/by/carburettor": lambda: carburettor(48),
    "mixture/fuel/by/carburettors": lambda: [*carburettor(32), *carburettor(64)],
    "mixture/fuel/by/injection": lambda: [
        path([(40, 8), (56, 8), (56, 24), (52, 36), (44, 36), (40, 24)], closed=True),
        *(line(48, 40, x, 58, dashed=True) for x in (36, 48, 60)),
    ],
    "mixture/fuel/tank/comes off": lambda: machine(
        path([(40, 20), (46, 8), (60, 10), (62, 18)], closed=True, thick=3)
    ),
    "exhaust/system": lambda: [
        path([(14, 10), (22, 36), (42, 46)], thick=4),
        box(42, 38, 46, 16),
        box(8, 6, 12, 6),
    ],
    "exhaust/system/held/nuts": lambda: [circle(48, 32, 12), nut(22, 32, 8), nut(74, 32, 8)],
    "exhaust/system/held/springs": lambda: [
        box(12, 22, 26, 20),
        box(58, 24, 26, 16),
        spring((34, 12), (64, 12)),
        spring((34, 52), (64, 52)),
    ],
    "starting/starter": lambda: [
        box(14, 18, 46, 28),
        line(60, 32, 70, 32, thick=3),
        circle(78, 32, 9),
        *teeth(78, 32, 9, 10),
    ],
    "starting/starter/by/kick": lambda: [
        circle(24, 16, 6),
        path([(24, 16), (50, 50)], thick=4),
        box(48, 48, 30, 7),
    ],
    "lubrication/dry_sump": lambda: [
        *engine(0, x=28),
        box(62, 8, 24, 34),
        drop(74, 26),
        path([(74, 42), (74, 56), (40, 56)]),
    ],
    "lubrication/wet_sump": lambda: sump(drop(48, 46)),
    "lubrication/wet_sump/filter/cartridge": lambda: [
        box(30, 14, 36, 40),
        *(line(x, 14, x, 30) for x in (38, 48, 58)),
        line(26, 54, 70, 54, thick=3),
    ],
    "lubrication/wet_sump/filter/element": lambda: [
        path([(28, 10), (34, 54), (40, 10), (46, 54), (52, 10), (58, 54), (64, 10), (70, 54)]),
        line(24, 8, 74, 8, thick=3),
    ],
    "lubrication/wet_sump/filter/strainer": lambda: [
        circle(48, 32, 24),
        *(line(x, 14, x, 50) for x in (36, 48, 60)),
        *(line(28, y, 68, y) for y in (22, 32, 42)),
    ],
    "gearbox/separate": lambda: [
        circle(34, 28, 14),
        circle(62, 36, 10),
        *teeth(34, 28, 14, 12),
        *teeth(62, 36, 10, 10),
        box(8, 4, 80, 56, dashed=True),
    ],
    "gearbox/with_engine": lambda: [
        *engine(0, x=30),
        circle(66, 46, 9),
        *teeth(66, 46, 9, 10),
        path([(16, 60), (84, 60)]),
    ],
    "clutch/plates": lambda: [
        *(box(x, 10, 5, 44) for x in (26, 36, 46, 56, 66)),
        line(10, 32, 86, 32, thick=3),
    ],
    "clutch/centrifugal": lambda: [
        circle(48, 32, 27),
        path([(40, 12), (28, 22), (28, 42), (40, 52)], thick=4),
        path([(56, 12), (68, 22), (68, 42), (56, 52)], thick=4),
        circle(48, 32, 4),
    ],
    "clutch/plates/worked/cable": lambda: [
        path([(10, 16), (30, 14), (46, 24), (60, 46), (86, 48)]),
        box(22, 9, 12, 10),
        box(70, 43, 10, 10),
    ],
    "clutch/plates/worked/brake fluid": lambda: [
        box(16, 12, 28, 16),
        path([(44, 22), (60, 24), (66, 46), (84, 46)]),
        drop(30, 44),
    ],
    "clutch/plates/worked/mineral oil": lambda: [
        box(16, 12, 28, 16),
        path([(44, 22), (60, 24), (66, 46), (84, 46)]),
        drop(30, 44),
    ],
    "final_drive/chain": lambda: [
        *pulleys(9, 20),
        *teeth(20, 32, 9, 8),
        *teeth(72, 32, 16, 18),
        *(circle(x, 23 - (x - 20) * 0.21, 2) for x in (32, 44, 56)),
        *(circle(x, 41 + (x - 20) * 0.21, 2) for x in (32, 44, 56)),
    ],
    "final_drive/belt": lambda: [
        *pulleys(10, 20),
        *(line(x, 22 - (x - 20) * 0.19, x + 1, 27 - (x - 20) * 0.19) for x in range(24, 70, 6)),
        *(line(x, 42 + (x - 20) * 0.19, x + 1, 37 + (x - 20) * 0.19) for x in range(24, 70, 6)),
    ],
    "final_drive/shaft": lambda: [
        box(6, 28, 52, 8),
        path([(58, 24), (66, 24), (66, 40), (58, 40)], closed=True),
        circle(76, 32, 14),
        circle(76, 32, 4),
    ],
    "final_drive/v_belt": lambda: [*pulleys(16, 16), circle(20, 32, 8), circle(72, 32, 8)],
    "final_drive/chain/link/riveted": lambda: links(
        path([(28, 20), (68, 20), (68, 44), (28, 44)], closed=True, thick=3),
        circle(34, 32, 2, filled=True),
        circle(62, 32, 2, filled=True),
    ),
    "final_drive/chain/link/clip": lambda: links(
        path([(70, 27), (30, 27), (26, 32), (30, 37), (70, 37)], thick=3)
    ),
    "final_drive/chain/link/endless": lambda: links(
        path([(28, 24), (68, 24), (68, 40), (28, 40)], closed=True)
    ),
    "stand/stands": lambda: machine(line(44, 44, 38, 60, thick=3)),
    "stand/stands/upright/centre stand": lambda: machine(
        path([(46, 44), (40, 60), (52, 60)], closed=True, thick=3)
    ),
    "stand/stands/upright/rear stand": lambda: machine(
        path([(20, 46), (8, 62), (34, 62)], thick=3)
    ),
    "front_wheel/axle": lambda: [
        box(40, 4, 16, 56),
        line(14, 32, 82, 32, thick=3),
        box(20, 8, 8, 30),
        box(68, 8, 8, 30),
    ],
    "front_wheel/axle/clamps/clamps": lambda: [
        box(28, 4, 16, 34),
        circle(36, 46, 11),
        circle(36, 46, 5),
        box(48, 40, 22, 5),
        box(48, 48, 22, 5),
        box(70, 38, 6, 9),
        box(70, 46, 6, 9),
    ],
    "front_wheel/axle/clamps/nut": lambda: [
        box(40, 4, 16, 34),
        nut(48, 46, 12),
        circle(48, 46, 5),
    ],
    "rear_wheel/axle": lambda: [
        box(36, 4, 24, 56),
        line(10, 32, 86, 32, thick=3),
        box(18, 26, 8, 12),
        box(70, 26, 8, 12),
    ],
    "rear_wheel/bolts": lambda: [*wheel(), *ring(48, 32, 10, 5, 2.5, filled=True)],
    "rear_wheel/axle/secured/self-locking nut": lambda: [
        nut(48, 32, 20),
        circle(48, 32, 12),
        circle(48, 32, 8),
    ],
    "rear_wheel/axle/secured/split pin": lambda: [
        box(32, 24, 32, 22),
        *(box(x, 14, 6, 10) for x in (32, 45, 58)),
        line(14, 19, 82, 19),
        path([(82, 19), (88, 13)]),
        path([(82, 19), (88, 25)]),
    ],
    "tyre/tyre": lambda: [*wheel(), *spokes(48, 32, 24, 27, 24), circle(48, 32, 4)],
    "tyre/tyre/tube/with": lambda: [
        path([(24, 14), (20, 36), (30, 54), (66, 54), (76, 36), (72, 14)], thick=4),
        circle(48, 34, 14),
    ],
    "tyre/tyre/tube/without": lambda: [
        path([(24, 14), (20, 36), (30, 54), (66, 54), (76, 36), (72, 14)], thick=4)
    ],
    "tyre/tyre/wheel/cast": lambda: [
        *wheel(),
        circle(48, 32, 5),
        *(path(turned(48, 32, a, [(-3, 5), (-2, 21)])) for a in range(0, 360, 72)),
        *(path(turned(48, 32, a, [(3, 5), (2, 21)])) for a in range(0, 360, 72)),
    ],
    "tyre/tyre/wheel/spoked": lambda: [
        *wheel(),
        circle(48, 32, 5),
        *spokes(48, 32, 5, 21, 16, 0.3),
    ],
    "brake/disc": disc,
    "brake/drum": lambda: drum(path([(42, 32), (66, 46)], thick=3), line(66, 46, 90, 40)),
    "brake/disc/discs/one": lambda: edge_discs(1),
    "brake/disc/discs/two": lambda: edge_discs(2),
    "brake/disc/caliper/sliding": disc,
    "brake/disc/caliper/fixed": lambda: disc(fixed=True),
    "brake/drum/worked/cable": lambda: drum(
        path([(42, 32), (66, 46)], thick=3), path([(66, 46), (78, 44), (84, 24), (92, 10)])
    ),
    "brake/drum/worked/rod": lambda: drum(
        path([(42, 32), (66, 46)], thick=3), line(66, 46, 94, 46, thick=3)
    ),
    "front_end/telescopic": lambda: fork(thick_above=False),
    "front_end/leading_link": lambda: [
        circle(62, 42, 18),
        path([(30, 6), (44, 46)], thick=4),
        line(44, 46, 62, 42, thick=3),
        spring((40, 12), (58, 40)),
    ],
    "front_end/wishbone": lambda: [
        circle(70, 44, 16),
        path([(56, 6), (70, 44)], thick=3),
        path([(12, 40), (60, 24)], thick=4),
        spring((30, 8), (40, 30)),
        circle(60, 24, 4, filled=True),
    ],
    "front_end/telescopic/kind/usual": lambda: fork(thick_above=False),
    "front_end/telescopic/kind/upside down": lambda: fork(thick_above=True),
    "front_end/telescopic/bearings/tapered rollers": lambda: [
        *(
            path(turned(48, 32, a, [(-4, 14), (-5, 26), (5, 26), (4, 14)]), closed=True)
            for a in range(0, 360, 45)
        )
    ],
    "front_end/telescopic/bearings/balls": lambda: [
        circle(48, 32, 28),
        circle(48, 32, 12),
        *ring(48, 32, 20, 10, 5),
    ],
    "rear_end/swinging_arm": lambda: arm(spring((40, 8), (50, 40))),
    "rear_end/swinging_arm/dampers/linkage": lambda: arm(
        spring((34, 6), (34, 36)), path([(34, 36), (44, 54), (26, 54)], closed=True)
    ),
    "rear_end/swinging_arm/dampers/direct": lambda: arm(spring((40, 8), (50, 40))),
    "rear_end/swinging_arm/dampers/two": lambda: [
        circle(48, 44, 16),
        spring((18, 8), (22, 44)),
        spring((78, 8), (74, 44)),
        line(18, 44, 78, 44, thick=3),
    ],
    "rear_end/swinging_engine": lambda: [
        circle(68, 44, 16),
        box(22, 32, 46, 16),
        circle(22, 36, 4, filled=True),
        spring((62, 6), (70, 40)),
    ],
    "body/motorcycle": machine,
    "body/scooter_panels": lambda: [
        circle(18, 50, 10),
        circle(78, 50, 10),
        path([(8, 40), (14, 24), (40, 24), (44, 44), (60, 44), (66, 14)], thick=3),
        line(60, 12, 72, 12, thick=3),
        line(66, 14, 78, 50),
    ],
    "body/motorcycle/fairing/half": lambda: machine(
        path([(74, 30), (80, 20), (70, 8), (58, 20), (60, 32)], closed=True, thick=3)
    ),
    "body/motorcycle/fairing/full": lambda: machine(
        path([(78, 24), (70, 8), (56, 22), (40, 30), (36, 54), (62, 54)], closed=True, thick=3)
    ),
    "body/motorcycle/panniers/fitted": lambda: machine(box(6, 26, 26, 18, filled=True)),
    "body/motorcycle/top_box/fitted": lambda: machine(box(4, 10, 20, 12, filled=True)),
    "body/motorcycle/guard/plate": lambda: machine(path([(34, 50), (58, 56), (66, 46)], thick=4)),
    "electrics/battery": battery,
    "electrics/battery/under/seat": lambda: machine(
        path([(46, 22), (30, 26), (14, 24)], thick=4), box(26, 30, 12, 9, filled=True)
    ),
    "electrics/battery/under/tank": lambda: machine(
        path([(42, 20), (46, 8), (60, 10), (62, 18)], closed=True), box(46, 24, 12, 9, filled=True)
    ),
    "electrics/battery/under/panel": lambda: machine(
        path([(26, 28), (46, 26), (42, 44), (28, 44)], closed=True, thick=3),
        box(31, 32, 10, 8, filled=True),
    ),
}
