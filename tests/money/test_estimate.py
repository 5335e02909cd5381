"""What each line costs, and that nothing is lost or charged twice between them."""

import hashlib
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.kit.trial import BOOK, GEAR, OIL_1, OIL_4, plan
from witnessmark.book import archetypes, load_book, selection
from witnessmark.kit import Kit, Pack, kit
from witnessmark.money import (
    Consumables,
    Disposal,
    Estimate,
    ExtraLine,
    ExtraPart,
    MoneyError,
    Rates,
    estimate,
    from_canonical,
    labour_tenths,
    plan_hash,
)
from witnessmark.money.minutes import carried
from witnessmark.money.pricing import plan_form
from witnessmark.money.rounding import half_up
from witnessmark.planner import Answer, PlanStep, compile_problem
from witnessmark.planner import plan as solve

OIL_JOB = ("pan_under", "engine_oil/drain", "engine_oil/close", "engine_oil/fill", "engine_oil/top")
RATES = Rates(
    currency="EUR",
    labour_per_hour=Decimal(90),
    tax={"full": Decimal(20)},
    usual_tax="full",
    part_prices={"ring": 250, "filter": 1399},
)


def priced(answer, jobs, rates=RATES, stock=(OIL_1, OIL_4, GEAR), **kwargs):
    return estimate(BOOK, answer, jobs, rates, kit(BOOK, answer, stock), **kwargs)


def with_for(answer, **served):
    """The plan with what its access steps are done for."""
    steps = [step.model_copy(update={"for_": served.get(step.name, ())}) for step in answer.steps]
    return Answer(status="optimal", steps=steps)


def nets(line):
    return [(item.kind, item.name, item.net_minor) for item in line.items]


def test_a_job_costs_its_labour_parts_and_fluids():
    """25 minutes at 90 an hour; three rings and a filter; of 5 L opened for 52.00, 4.5 L were used."""
    found = priced(plan(*OIL_JOB), ["engine_oil"])
    assert nets(found.line("engine_oil")) == [
        ("labour", "", 3750),
        ("part", "ring", 750),
        ("part", "filter", 1399),
        ("fluid", "oil", 4680),
    ]
    assert (found.net_minor, found.tax_minor, found.gross_minor) == (10579, 2116, 12695)
    assert found.unpriced == ()


def test_every_item_says_what_it_is_how_much_of_it_and_under_which_tax():
    """Fluids in litres, labour in minutes, the rest by its unit; where no price is known there is none."""
    job = BOOK.jobs["engine_oil"].model_copy(update={"disposal": ["oil", "gear"], "why": "old"})
    book = BOOK.model_copy(update={"jobs": {"engine_oil": job}})
    rates = RATES.model_copy(
        update={
            "tax": {"full": Decimal(20), "less": Decimal(7)},
            "taxed": {"labour": "less", "disposal": "less"},
            "consumables": Consumables(rule="per visit", amount=Decimal(4)),
            "disposal": Disposal(rule="per litre", amount=Decimal(2)),
        }
    )
    answer = plan(*OIL_JOB)
    ready = kit(book, answer, [OIL_1, OIL_4])

    def told(rates):
        (line,) = estimate(book, answer, ["engine_oil"], rates, ready).lines
        assert (line.text, line.why, line.extra) == ("Engine oil", "old", False)
        return [
            (i.text, float(i.quantity), i.unit, i.net_minor, i.tax, i.kind, i.name)
            for i in line.items
        ]

    found = told(rates)
    assert found == [
        ("Labour", 25, "min", 3750, "less", "labour", ""),
        ("Sealing ring", 3, "piece", 750, "full", "part", "ring"),
        ("Oil filter", 1, "piece", 1399, "full", "part", "filter"),
        ("Engine oil", 4.5, "L", 4680, "full", "fluid", "oil"),
        ("Disposal: Engine oil", 4.5, "L", 900, "less", "disposal", "oil"),
        ("Disposal: Gear oil", 0, "L", None, "less", "disposal", "gear"),  # drained, not filled
        ("Consumables", 1, "", 400, "full", "consumables", ""),
    ]
    each = rates.model_copy(update={"disposal": Disposal(rule="per fluid", amount=Decimal(2))})
    found[4] = ("Disposal: Engine oil", 1, "", 200, "less", "disposal", "oil")
    found[5] = ("Disposal: Gear oil", 1, "", 200, "less", "disposal", "gear")
    assert told(each) == found
    found[0] = ("Labour, flat price", 25, "min", 5000, "less", "labour", "")
    assert told(each.model_copy(update={"flat": {"engine_oil": 5000}})) == found


def test_whole_packs_are_charged_where_the_shop_does_so():
    whole = RATES.model_copy(update={"fluids": "by opened packs"})
    assert nets(priced(plan(*OIL_JOB), ["engine_oil"], whole).line("engine_oil"))[-1] == (
        "fluid",
        "oil",
        5200,
    )


def test_a_price_per_litre_goes_before_that_of_packs():
    per_litre = RATES.model_copy(update={"fluid_per_litre": {"oil": 1111}})
    assert nets(priced(plan(*OIL_JOB), ["engine_oil"], per_litre).line("engine_oil"))[-1] == (
        "fluid",
        "oil",
        5000,
    )


def test_an_access_step_is_shared_equally_by_the_jobs_it_is_done_for_and_tenths_go_by_job_order():
    both = with_for(
        plan("pan_under", "engine_oil/drain", "drive_oil/fill"),
        pan_under=("drive_oil/fill", "engine_oil/drain"),
    )
    one = both.model_copy(
        update={"steps": (both.steps[0].model_copy(update={"end": 0.5}), *both.steps[1:])}
    )
    assert labour_tenths(BOOK, one, ["drive_oil", "engine_oil"]) == {
        "drive_oil": 53,
        "engine_oil": 52,
    }
    assert labour_tenths(BOOK, one, ["engine_oil", "drive_oil"]) == {
        "drive_oil": 52,
        "engine_oil": 53,
    }


def test_an_access_step_for_two_operations_of_one_job_is_that_jobs_alone():
    """Shares go by job, not by operation."""
    steps = ("engine_oil/drain", "engine_oil/close", "drive_oil/fill")
    answer = with_for(plan("pan_under", *steps), pan_under=steps)
    assert labour_tenths(BOOK, answer, ["engine_oil", "drive_oil"]) == {
        "engine_oil": 125,
        "drive_oil": 75,
    }


PRICED_RAG = RATES.model_copy(update={"part_prices": {**RATES.part_prices, "rag": 101}})


def test_a_part_that_an_access_step_uses_is_shared_as_its_minutes_are():
    answer = with_for(
        plan("pan_under", "engine_oil/drain", "drive_oil/fill"),
        pan_under=("engine_oil/drain", "drive_oil/fill"),
    )
    found = priced(answer, ["engine_oil", "drive_oil"], PRICED_RAG)
    assert [nets(line)[1] for line in found.lines] == [("part", "rag", 51), ("part", "rag", 50)]
    assert found.lines[0].items[1].quantity == Decimal("0.5")


@pytest.mark.parametrize("wheel", [["rear_tyre"], ["rear_tyre", "chain_kit"], ["chain_kit"]])
def test_a_new_axle_nut_is_on_the_lines_that_want_the_wheel_out_alone(wheel):
    """All ride after with the axle tight; only some need its nut. Common practice, no source."""
    book = load_book(archetypes()["naked_four"])
    jobs = selection(book, ["front_pads", *wheel])
    answer = solve(compile_problem(book, jobs))
    found = estimate(book, answer, jobs, RATES, kit(book, answer))
    bearing = {
        line.id: item.quantity
        for line in found.lines
        for item in line.items
        if item.name == "rear_axle_nut"
    }
    assert {line.id for line in found.lines} == {"front_pads", *wheel}
    assert bearing == dict.fromkeys(wheel, Decimal(1) / len(wheel))


def test_what_has_no_price_is_named_and_never_guessed():
    bare = RATES.model_copy(update={"part_prices": {}})
    answer = plan("fork/fill", *OIL_JOB)
    found = estimate(
        BOOK, answer, ["engine_oil", "fork"], bare, kit(BOOK, answer, [Pack("oil", 1000)])
    )
    assert found.line("fork").items[-1].quantity == 0, "nobody knows how much"
    assert found.unpriced == (
        "Engine oil: Sealing ring",
        "Engine oil: Oil filter",
        "Engine oil: Engine oil",
        "Fork oil: Fork oil",
    )


def test_of_a_fluid_no_part_is_priced_where_one_volume_or_one_pack_has_no_figure():
    fill = (
        BOOK.jobs["fork"]
        .operations["fill"]
        .model_copy(update={"fluids": {"oil": BOOK.jobs["fork"].operations["fill"].fluids["fork"]}})
    )
    fork = BOOK.jobs["fork"].model_copy(update={"operations": {"fill": fill}})
    book = BOOK.model_copy(update={"jobs": BOOK.jobs | {"fork": fork}})
    answer = plan("fork/fill", *OIL_JOB)
    ready = kit(book, answer, [OIL_1, OIL_4])
    assert estimate(book, answer, ["engine_oil", "fork"], RATES, ready).unpriced == (
        "Engine oil: Engine oil",
        "Fork oil: Engine oil",
    )
    bare = Pack("oil", 1000, "Oil 1 L", None, 3)
    assert priced(plan(*OIL_JOB), ["engine_oil"], stock=(bare, OIL_4)).unpriced == (
        "Engine oil: Engine oil",
    )


def test_opened_packs_are_charged_as_they_are_though_there_is_a_price_per_litre():
    both = RATES.model_copy(update={"fluids": "by opened packs", "fluid_per_litre": {"oil": 1111}})
    assert nets(priced(plan(*OIL_JOB), ["engine_oil"], both).lines[0])[-1] == ("fluid", "oil", 5200)


def test_nothing_planned_costs_nothing():
    rates = RATES.model_copy(
        update={"consumables": Consumables(rule="per visit", amount=Decimal(4))}
    )
    found = estimate(BOOK, plan(), [], rates, Kit())
    assert (found.lines, found.gross_minor) == ((), 0)


@pytest.mark.parametrize(
    ("rule", "charged"),
    [
        (Consumables(rule="percent of labour", amount=Decimal(5)), [188, 38]),
        (Consumables(rule="percent of parts", amount=Decimal(10)), [215]),
        (Consumables(rule="per visit", amount=Decimal("4.75")), [238, 237]),
        (Consumables(), []),
    ],
)
def test_consumables_are_charged_by_rule(rule, charged):
    answer = with_for(plan(*OIL_JOB, "drive_oil/fill"), pan_under=("engine_oil/drain",))
    found = priced(
        answer, ["engine_oil", "drive_oil"], RATES.model_copy(update={"consumables": rule})
    )
    items = [item for line in found.lines for item in line.items if item.kind == "consumables"]
    assert [item.net_minor for item in items] == charged
    assert {item.quantity for item in items} <= {1}


def test_of_parts_without_a_price_no_per_cent_is_charged():
    rule = Consumables(rule="percent of parts", amount=Decimal(100))
    rates = RATES.model_copy(update={"consumables": rule, "part_prices": {"ring": 250}})
    line = priced(plan(*OIL_JOB), ["engine_oil"], rates).line("engine_oil")
    parts = [item for item in line.items if item.kind == "part"]
    assert [item.net_minor for item in parts].count(None) == 1
    [consumables] = [item for item in line.items if item.kind == "consumables"]
    assert consumables.net_minor == sum(item.net_minor or 0 for item in parts)


@pytest.mark.parametrize(
    ("rule", "charged"),
    [("per litre", [450, 18]), ("per fluid", [100, 100]), ("none", [])],
)
def test_disposal_is_charged_by_rule_for_what_a_job_drains(rule, charged):
    jobs = {
        "engine_oil": BOOK.jobs["engine_oil"].model_copy(update={"disposal": ["oil"]}),
        "drive_oil": BOOK.jobs["drive_oil"].model_copy(update={"disposal": ["gear"]}),
    }
    book = BOOK.model_copy(update={"jobs": jobs})
    rates = RATES.model_copy(update={"disposal": Disposal(rule=rule, amount=Decimal(1))})
    answer = with_for(plan(*OIL_JOB, "drive_oil/fill"), pan_under=("engine_oil/drain",))
    found = estimate(book, answer, list(jobs), rates, kit(book, answer, [OIL_1, OIL_4, GEAR]))
    assert [
        item.net_minor for line in found.lines for item in line.items if item.kind == "disposal"
    ] == charged


def test_kinds_fall_under_their_own_tax_rate():
    rates = RATES.model_copy(
        update={"tax": {"full": Decimal(20), "less": Decimal(7)}, "taxed": {"labour": "less"}}
    )
    found = priced(plan(*OIL_JOB), ["engine_oil"], rates)
    assert [(tax.name, tax.net_minor, tax.tax_minor) for tax in found.taxes] == [
        ("full", 6829, 1366),
        ("less", 3750, 263),
    ]


def test_a_tax_rate_that_is_not_there_is_refused():
    with pytest.raises(ValidationError, match="no tax rate is named “half”; rates are: full"):
        Rates(currency="EUR", tax={"full": Decimal(20)}, usual_tax="half")


PART = {"text": "x", "each_minor": 0}
EXTRA = {"id": "x", "text": "x"}


@pytest.mark.parametrize(
    ("model", "said", "field", "taken", "refused"),
    [
        (Rates, {"currency": "EUR"}, "labour_per_hour", [0, 10**9, "12345678.901234"],
         ["-0.01", "1000000000.01", "12345678.9012345"]),
        (Rates, {"currency": "EUR"}, "part_prices", [{"a": 0}, {"a": 10**12}], [{"a": -1}, {"a": 10**12 + 1}]),
        (Rates, {"currency": "EUR"}, "tax", [{"a": 0}, {"a": 1000}, {"a": "8.1234567"}],
         [{"a": "-0.1"}, {"a": "1000.1"}, {"a": "8.12345678"}]),
        (ExtraPart, PART, "quantity", ["0.001", 10_000], [0, "10000.1"]),
        (ExtraPart, PART, "text", ["x" * 2000], ["", "x" * 2001]),
        (ExtraLine, EXTRA, "id", ["x" * 200], ["", "x" * 201]),
        (ExtraLine, EXTRA, "labour_tenths", [0, 1_000_000], [-1, 1_000_001]),
    ],
)  # fmt: skip
def test_a_price_takes_so_much_and_no_more(model, said, field, taken, refused):
    """Judged by us: beyond it something was mistyped."""
    for value in taken:
        model.model_validate(said | {field: value})
    for value in refused:
        with pytest.raises(ValidationError):
            model.model_validate(said | {field: value})


def test_a_shop_that_has_set_nothing_charges_nothing():
    bare = Rates(currency="EUR")
    assert (bare.labour_minor(600), bare.tax_of("labour")) == (0, None)
    per_visit, per_litre = Consumables(rule="per visit"), Disposal(rule="per fluid")
    assert (Consumables().rule, Disposal().rule, per_visit.amount, per_litre.amount) == (
        "none", "none", 0, 0,
    )  # fmt: skip
    assert ExtraPart(text="x", each_minor=5).quantity == 1
    assert ExtraLine(id="x", text="x").labour_tenths == 0


def test_an_unknown_currency_is_refused():
    with pytest.raises(ValidationError, match="EURO is no currency of ISO 4217"):
        Rates(currency="EURO")


FOUND = ExtraLine(
    id="seal",
    text="Fork seal weeps: renew",
    why="seen while the wheel was off",
    labour_tenths=450,
    parts=(ExtraPart(text="Seal", quantity=Decimal(2), each_minor=1250),),
)


def test_a_finding_becomes_a_line_beside_the_plan():
    found = priced(plan(*OIL_JOB), ["engine_oil"], extra=[FOUND])
    line = found.line("seal")
    assert (line.extra, nets(line), found.attended_tenths) == (
        True,
        [("labour", "", 6750), ("part", "", 2500)],
        250,
    )
    assert found.net_minor == 10579 + 9250


def test_an_addition_says_its_work_and_parts_and_a_fixed_price_stands_for_its_minutes():
    for fixed, labour in (
        (None, ("Labour", 45, "min", 6750)),
        (0, ("Labour, fixed price", 1, "", 0)),
    ):
        extra = FOUND.model_copy(update={"fixed_minor": fixed})
        line = priced(plan(*OIL_JOB), ["engine_oil"], extra=[extra]).line("seal")
        told = [(i.text, float(i.quantity), i.unit, i.net_minor) for i in line.items]
        assert told == [labour, ("Seal", 2, "", 2500)]
        assert (line.text, line.why, line.labour_tenths) == (FOUND.text, FOUND.why, 450)
    with pytest.raises(KeyError, match="nowhere"):
        priced(plan(*OIL_JOB), ["engine_oil"]).line("nowhere")


def test_an_addition_may_be_parts_alone():
    said = FOUND.model_dump()
    for labour in ({}, {"labour_tenths": 0}):
        extra = ExtraLine.model_validate(
            {"id": "seal", "text": "Seal", "parts": said["parts"]} | labour
        )
        found = priced(plan(*OIL_JOB), ["engine_oil"], extra=[extra])
        assert nets(found.line("seal")) == [("part", "", 2500)]


@pytest.mark.parametrize("order", [("drive_oil", "engine_oil"), ("engine_oil", "drive_oil")])
def test_what_another_job_brings_is_on_its_line_wherever_it_stands(order):
    """Of two that bring each other the first is the line; settled before, a line stays one."""

    def whose(**brings):
        jobs = {
            job: BOOK.jobs[job].model_copy(update={"brings": brings.get(job, [])}) for job in order
        }
        return BOOK.model_copy(update={"jobs": jobs})

    one_way = whose(drive_oil=["engine_oil"])
    both = whose(drive_oil=["engine_oil"], engine_oil=["drive_oil"])
    assert carried(one_way, order) == dict.fromkeys(order, ("drive_oil",))
    assert carried(both, order) == dict.fromkeys(order, order[:1])
    assert carried(one_way, order, ["engine_oil"]) == {job: (job,) for job in order}
    jobs = BOOK.jobs | {
        job: BOOK.jobs[job].model_copy(update={"brings": ["fork"]}) for job in order
    }
    two = BOOK.model_copy(update={"jobs": jobs})
    assert carried(two, [*order, "fork"])["fork"] == order
    assert carried(two, [*order, "fork"], ["engine_oil"])["fork"] == ("engine_oil",)


@pytest.mark.parametrize(
    ("value", "whole"),
    [("2.4", 2), ("2.5", 3), ("-2.4", -2), ("-2.5", -3), ("0", 0), ("-0.4", 0)],
)
def test_halves_go_away_from_zero_so_that_a_credit_mirrors_its_charge(value, whole):
    assert half_up(Decimal(value)) == half_up(Fraction(value)) == whole


@pytest.mark.parametrize(
    ("answer", "jobs", "problem"),
    [
        (plan("gearbox/drain"), ["engine_oil"], "step “gearbox/drain” is not in the book trial"),
        (
            plan("drive_oil/fill"),
            ["engine_oil"],
            "step “drive_oil/fill” is for drive_oil, which is not priced",
        ),
        (plan("pan_under"), [], "step “pan_under” is for no job, which is not priced"),
        (
            with_for(plan("pan_under"), pan_under=("fork/fill", "drive_oil/fill")),
            ["engine_oil"],
            "step “pan_under” is for drive_oil, fork, which is not priced",
        ),
        (plan("drive_oil/fill"), ["gearbox"], "no job “gearbox” in trial"),
        (plan("drive_oil/fill"), ["drive_oil", "drive_oil"], "a job is named twice"),
        (Answer(status="impossible"), ["drive_oil"], "the plan is impossible"),
        (
            plan("drive_oil/fill").model_copy(update={"attended_minutes": 6.0}),
            ["drive_oil"],
            "its steps take 5.0 attended minutes, it says 6.0",
        ),
    ],
)
def test_a_plan_that_does_not_fit_is_not_priced(answer, jobs, problem):
    with pytest.raises(MoneyError) as refused:
        estimate(BOOK, answer, jobs, RATES, Kit())
    assert refused.value.problem == problem


def test_an_estimate_is_kept_and_found_again_by_its_hash():
    """The same bytes after reading them back; the same hash for the same plan found in another time."""
    found = priced(plan(*OIL_JOB), ["engine_oil"], extra=[FOUND])
    again = from_canonical(found.canonical())
    assert (again, again.canonical(), again.hash) == (found, found.canonical(), found.hash)
    slow = plan(*OIL_JOB).model_copy(update={"solve_seconds": 9.9})
    assert priced(slow, ["engine_oil"], extra=[FOUND]).hash == found.hash
    assert plan_hash(plan(*OIL_JOB[:-1])) != found.plan
    form = plan_form(plan("pan_under"))
    assert b'"for":[]' in form, "by the keys of the documented form"
    assert hashlib.sha256(form).hexdigest() == plan_hash(plan("pan_under"))


def test_an_estimate_whose_sums_were_tampered_with_is_refused():
    found = priced(plan(*OIL_JOB), ["engine_oil"])
    tampered = found.canonical().replace(b'"net_minor":750,', b'"net_minor":7,')
    assert tampered != found.canonical()
    with pytest.raises(
        ValidationError, match="the sums of the estimate do not agree with its lines"
    ):
        from_canonical(tampered)


def test_an_estimate_never_changes():
    found = priced(plan(*OIL_JOB), ["engine_oil"])
    with pytest.raises(ValidationError, match="frozen"):
        found.net_minor = 1


JOBS = ("engine_oil", "drive_oil", "fork")
OPERATIONS = [f"{job}/{name}" for job in JOBS for name in BOOK.jobs[job].operations]


@st.composite
def plans(draw):
    """Any plan of these jobs: every operation once, the access step now and then, for anything."""
    steps = []
    for name in draw(st.permutations(OPERATIONS)):
        for step in ["pan_under"] * draw(st.integers(0, 2)) + [name]:
            start, tenths = len(steps) * 100.0, draw(st.integers(1, 999))
            serves = (
                draw(st.lists(st.sampled_from(OPERATIONS), max_size=4))
                if step == "pan_under"
                else ()
            )
            steps.append(
                PlanStep(
                    name=step,
                    kind="operation",
                    start=start,
                    end=start + tenths / 10,
                    tail_end=start + 99.9,
                    for_=serves,
                )
            )
    return Answer(status="feasible", steps=steps)


@settings(max_examples=60)
@given(
    plans(),
    st.permutations(JOBS),
    st.decimals(0, 500, places=2),
    st.sampled_from(["by volume", "by opened packs"]),
    st.decimals(0, 30, places=2),
)
def test_lines_sum_to_the_plan_and_to_what_was_used_exactly(answer, jobs, hourly, fluids, percent):
    """No minute, part or drop is lost or charged twice, whatever is shared with whom."""
    rates = Rates(
        currency="EUR", labour_per_hour=hourly, tax={"t": percent}, usual_tax="t", fluids=fluids,
        part_prices={"ring": 333, "filter": 1399, "rag": 101},
    )  # fmt: skip
    ready = kit(BOOK, answer, [OIL_1, OIL_4, GEAR, Pack("fork", 1000, "", 1500)])
    found = estimate(BOOK, answer, jobs, rates, ready)
    tenths = [round((step.end - step.start) * 10) for step in answer.steps]
    assert [line.id for line in found.lines] == list(jobs)
    assert sum(line.labour_tenths for line in found.lines) == found.attended_tenths == sum(tenths)
    for part in ready.parts:
        price = rates.part_prices[part.part] * Fraction(part.quantity)
        assert charged(found, "part", part.part) == price
    packs = 1200 + 4000 if fluids == "by opened packs" else 4680
    assert charged(found, "fluid", "oil") == packs
    assert found.gross_minor == sum(line.net_minor for line in found.lines) + found.tax_minor
    assert abs(found.tax_minor - found.net_minor * percent / 100) <= Decimal("0.5")
    for line in found.lines:
        exact = Fraction(hourly) * 100 * line.labour_tenths / 600
        assert abs(line.items[0].net_minor - exact) <= Fraction(1, 2)
    assert Estimate.model_validate_json(found.canonical()) == found


def charged(found, kind, name):
    items = [item for line in found.lines for item in line.items]
    return sum(item.net_minor for item in items if (item.kind, item.name) == (kind, name))


def test_labour_has_a_least_price_and_steps_and_no_minutes_cost_nothing():
    rules = {
        "labour_per_hour": Decimal(60),
        "labour_minimum": Decimal(15),
        "labour_step": Decimal(5),
    }
    rates = Rates(currency="EUR", flat={"wash": 900}, **rules)
    told = [rates.labour_minor(tenths) for tenths in (0, 10, 150, 174, 175, 200)]
    assert told == [0, 1500, 1500, 1500, 2000, 2000]
    assert (rates.labour_minor(0, "wash"), rates.labour_minor(600, "wash")) == (900, 900)
    plain = Rates(currency="EUR", labour_per_hour=Decimal(60))
    assert plain.labour_minor(1) == 10


def test_what_a_shop_does_not_use_is_not_in_the_kept_form():
    """So that an estimate from before those rules has the hash it always had."""
    assert {"labour_minimum", "labour_step", "flat"}.isdisjoint(RATES.model_dump())
    used = RATES.model_copy(update={"labour_step": Decimal(5)})
    assert "labour_step" in used.model_dump()
