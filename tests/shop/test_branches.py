"""The order where readings decide: taken with its tree, followed by what is read, handed back either way."""

import re
from datetime import UTC, datetime
from io import BytesIO

import pypdf
import pytest
from typer.testing import CliRunner

from tests.fixtures.slack import chain_in, slack_file
from tests.shop.test_price import answered, offer
from witnessmark.cli.main import app
from witnessmark.planner import Wish, WishError
from witnessmark.shop import store
from witnessmark.shop.work import branches, planning, pricing, solving
from witnessmark.shop.work.crew import crew_of
from witnessmark.shop.work.hand_back import not_needed
from witnessmark.shop.work.plan_followed import new_order, plan_progress
from witnessmark.shop.work.visit import read

SLACK = "slack outside"


@pytest.fixture
def chain(desk, tmp_path):
    """A machine whose chain is looked after, of a book in which the slack decides."""
    return chain_in(desk, slack_file(tmp_path))


@pytest.fixture
def crew(technician, helper):
    """Two who are free to do all."""
    return crew_of([technician, helper], datetime(2026, 11, 25, 9, tzinfo=UTC))


@pytest.fixture
def taken(chain, desk):
    """Its order, taken."""
    made = planning.ordered(read(chain), ["chain"])
    store.record(desk, chain, "plan_taken", {"plan": planning.keep(chain.shop, made)})
    return chain


def slack(desk, visit, mm, place=1, step="chain/measure"):
    body = {"reading": "slack", "step": step, "index": place, "value": mm, "text": f"{mm:g} mm"}
    return store.record(desk, visit, "read", body)


def measured(desk, visit, *mm):
    made = [slack(desk, visit, value, place) for place, value in enumerate(mm, 1)]
    store.record(desk, visit, "done", {"step": "chain/measure"})
    return made


def left(visit) -> list[str]:
    return [step.name for step in plan_progress(read(visit)).left]


def test_the_likeliest_way_is_taken_and_the_tree_is_kept_beside_it(taken):
    """By pencil: within in six of ten: 2 + 4 + 2; else 6 + 20 + 8 + 2 + 2, and in one of five of those 15 more."""
    made = planning.taken(read(taken))
    assert plan_progress(read(taken)).misfits == ()
    assert [step.name for step in made.answer.steps] == [
        "chain/measure",
        "chain/grease",
        "chain/measure_again",
    ]
    assert made.answer.attended_minutes == 8
    assert made.tree.expected_attended_minutes == pytest.approx(0.6 * 8 + 0.4 * (38 + 0.2 * 15))
    assert (made.tree.least.attended_minutes, made.tree.worst.attended_minutes) == (8, 53)
    [fork] = made.forks
    assert (fork.place, fork.taken.answers) == (1, {SLACK: False})


def test_within_the_order_goes_on_as_it_stood_and_is_handed_back_without_the_rest(taken, desk):
    measured(desk, taken, 35, 36)
    assert left(taken) == ["chain/grease", "chain/measure_again"]
    assert plan_progress(read(taken)).fits
    assert [step for step, _why in not_needed(read(taken))] == [
        "Adjust the chain",
        "Change the sprocket",
    ]
    assert not_needed(read(taken))[0][1] == (
        "Chain slack 35 mm, 36 mm: within its limits, at least 30 mm, at most 40 mm"
    )


def test_outside_the_other_branch_is_there_without_a_search(taken, desk, monkeypatch):
    measured(desk, taken, 45, 36)
    monkeypatch.setattr(solving, "plan", None)
    monkeypatch.setattr(solving, "plan_tree", None)
    course = plan_progress(read(taken))
    assert course.fits
    assert left(taken) == ["wheel_off", "chain/adjust", "wheel_on", "chain/measure_again"]
    assert course.plan.answer.attended_minutes == 38


def test_a_reading_in_the_branch_decides_again(taken, desk):
    measured(desk, taken, 45, 36)
    store.record(desk, taken, "done", {"step": "wheel_off"})
    play = {"reading": "play", "step": "chain/adjust", "value": 1.4, "text": "1.4 mm"}
    store.record(desk, taken, "read", play)
    store.record(desk, taken, "done", {"step": "chain/adjust"})
    assert left(taken) == ["chain/sprocket", "wheel_on", "chain/measure_again"]
    assert plan_progress(read(taken)).fits


def test_a_corrected_reading_turns_the_order_and_what_was_opened_is_closed(taken, desk):
    """The wheel is off already when it is seen that the slack was within."""
    first, _ = measured(desk, taken, 45, 36)
    store.record(desk, taken, "done", {"step": "wheel_off"})
    store.record(desk, taken, "corrected", {"entry": str(first.entry.id)})
    slack(desk, taken, 35)
    work = read(taken)
    assert "chain/adjust" in work.state.not_needed
    assert not plan_progress(work).fits
    made = new_order(work)
    assert [step.name for step in made.answer.steps].count("wheel_on") == 1
    assert "chain/adjust" not in [step.name for step in made.answer.steps]


def test_what_cannot_be_read_is_done_as_if_nothing_decided(taken, desk):
    said = {"reading": "slack", "step": "chain/measure", "because": "wheel stuck"}
    for place in (1, 2):
        store.record(desk, taken, "not_read", {**said, "index": place})
    store.record(desk, taken, "done", {"step": "chain/measure"})
    work = read(taken)
    assert work.state.not_needed == {}
    names = {step.name for step in new_order(work).answer.steps}
    assert {"chain/adjust", "chain/grease"} <= names


def test_without_anything_to_decide_the_order_is_kept_in_the_form_it_had(visit):
    """Not a byte of it is new: format 1, and no word of a tree."""
    work = read(visit)
    made = planning.ordered(work, planning.to_do(work))
    assert made == planning.planned(work, planning.to_do(work))
    assert b'"format":1' in made.canonical()
    assert b"tree" not in made.canonical()


def test_a_kept_tree_is_read_back_as_it_was(taken):
    kept = planning.of_hash(taken.shop, read(taken).state.plan)
    assert kept.hash == read(taken).state.plan
    assert kept.tree is not None


def test_handed_back_either_way_nothing_stays_open_of_what_was_not_needed(taken, desk):
    measured(desk, taken, 35, 36)
    store.record(desk, taken, "done", {"step": "chain/grease"})
    for place in (1, 2):
        slack(desk, taken, 35, place, "chain/measure_again")
    store.record(desk, taken, "done", {"step": "chain/measure_again"})
    assert left(taken) == []
    assert read(taken).state.done_whole(
        f"chain/{name}" for name in read(taken).book.jobs["chain"].operations
    )


def words(page) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode()))


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def fields(page) -> dict:
    said = page.content.decode()
    return dict(re.findall(r'name="(entry_id|plan)" value="([^"]+)"', said)) | {
        "seen": re.search(r'name="seen" value="([^"]*)"', said)[1].replace("&quot;", '"')}  # fmt: skip


def test_the_page_shows_the_branch_its_figures_and_how_sure_they_are(tab, chain):
    said = words(tab.get(f"/visits/{chain.pk}/order/?now=1"))
    assert (
        "Readings decide: 21 min of labour expected, least 8 min (60 %), most 53 min (8 %)." in said
    )
    assert re.search(r"If Chain slack outside its limits Adjust the chain", said)
    assert "Chain slack outside its limits: invented figure of the book: 40 %" in said
    assert "No order is shorter, even for somebody who knew every answer at the door." in said


def test_what_each_answer_brings_stands_beside_the_field_and_what_came_on_the_next_card(tab, taken):
    bench = f"/visits/{taken.pk}/bench/"
    page = tab.get(bench)
    said = words(page)
    assert "Within its limits: as planned." in said
    assert "Outside its limits: “Adjust the chain” comes in" in said
    card = {"card": "chain/measure", "done": "1", "reading-slack-1": "45", "reading-slack-2": "36"}
    got = tab.post(f"{bench}confirm/", fields(page) | card, follow=True)
    assert re.search(
        r"Chain slack outside its limits: “Adjust the chain” comes in, “Grease the chain as it is” "
        r"is not needed, 3\d min more\.",
        words(got),
    )
    sent_again = tab.post(f"{bench}confirm/", fields(page) | card, follow=True)
    assert sent_again.status_code == 200
    assert len(read(taken).state.readings) == 2


def test_a_reading_left_empty_is_asked_for_and_may_be_taken_as_an_answer(tab, taken):
    bench = f"/visits/{taken.pk}/bench/"
    empty = {"card": "chain/measure", "done": "1"}
    asked = tab.post(f"{bench}confirm/", fields(tab.get(bench)) | empty)
    assert asked.status_code == 422
    assert "Then take it as" in words(asked)
    why = {f"unread-reading-slack-{n}": "the wheel is stuck" for n in (1, 2)}
    taken_as = {f"taken-reading-slack-{n}-0": "no" for n in (1, 2)}
    tab.post(f"{bench}confirm/", fields(asked) | empty | why | taken_as)
    work = read(taken)
    assert work.state.answers == {SLACK: False}
    assert not_needed(work)[0] == (
        "Adjust the chain",
        "Chain slack: taken as within its limits, at least 30 mm, at most 40 mm",
    )


def test_a_helper_does_not_say_what_a_reading_is_taken_as(client_of, helper, taken):
    tab = client_of(helper)
    bench = f"/visits/{taken.pk}/bench/"
    empty = {"card": "chain/measure", "done": "1"}
    asked = tab.post(f"{bench}confirm/", fields(tab.get(bench)) | empty)
    assert "Then take it as" not in words(asked)
    why = {f"unread-reading-slack-{n}": "stuck" for n in (1, 2)}
    refused = tab.post(
        f"{bench}confirm/", fields(asked) | empty | why | {"taken-reading-slack-1-0": "no"}
    )
    assert refused.status_code == 403
    assert read(taken).state.unread == ()


def test_a_reading_that_is_hard_to_believe_decides_nothing_before_it_is_typed_again(tab, taken):
    bench = f"/visits/{taken.pk}/bench/"
    typed = {"card": "chain/measure", "done": "1", "reading-slack-2": "36"}
    for absurd in ("45000", "-45", "forty"):
        got = tab.post(
            f"{bench}confirm/", fields(tab.get(bench)) | typed | {"reading-slack-1": absurd}
        )
        assert got.status_code == 422
    assert read(taken).state.answers == {}
    assert left(taken)[0] == "chain/measure"


def test_at_hand_back_a_reading_not_taken_leaves_the_job_open_and_nothing_is_called_needless(
    tab, taken, desk
):
    offer(tab, taken)
    answered(tab, taken, chain="yes")
    here = f"/visits/{taken.pk}/handback/"
    said = words(tab.get(here))
    assert re.search(
        r"Look after the chain: agreed, not yet done: Measure the slack[^:]*Adjust", said
    )
    assert "within its limits" not in said
    measured(desk, taken, 35, 36)
    said = words(tab.get(here))
    assert re.search(r"agreed, not yet done: Grease the chain as it is, Measure the slack", said)
    assert "Chain slack 35 mm, 36 mm: within its limits" in said


def test_a_reading_after_hand_back_brings_no_branch_and_says_that_it_came_late(tab, taken, desk):
    bench = f"/visits/{taken.pk}/bench/"
    form = fields(tab.get(bench))
    store.record(desk, taken, "returned", {"keys": 2, "ridden_away": True})
    typed = {"card": "chain/measure", "done": "1", "reading-slack-1": "45", "reading-slack-2": "36"}
    refused = tab.post(f"{bench}confirm/", form | typed)
    assert refused.status_code == 409
    assert read(taken).state.readings == ()
    slack(desk, taken, 45)  # from a tablet that did not know
    work = read(taken)
    assert branches.newly_decided(work, planning.taken(work), work.state.history[-1:]) == []
    assert "came in after hand-back" in work.state.recalls[0].words


def text_of(tab, visit, slug: str) -> str:
    answer = tab.get(f"/visits/{visit.pk}/papers/{slug}.pdf")
    assert answer["Content-Type"] == "application/pdf"
    pages = pypdf.PdfReader(BytesIO(answer.content)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def test_what_access_of_another_branch_uses_is_perhaps_needed_while_that_is_open(desk, tmp_path):
    """The wheel is off for the adjustment alone: a new split pin in four of ten."""
    file = slack_file(tmp_path)
    wheel = 'text = "Fit the rear wheel"\n'
    text = file.read_text().replace(wheel, f"{wheel}parts = {{ pin = 1 }}\n")
    file.write_text(text + '[parts.pin]\ntext = "Split pin"\n')
    visit = chain_in(desk, file)

    def laid_out():
        made = planning.taken(read(visit))
        found = pricing.laid_out(read(visit), made.every_step)
        return [one.text for one in found.parts], [(p.text, p.chance[:4]) for p in found.perhaps]

    plan = planning.keep(visit.shop, planning.ordered(read(visit), ["chain"]))
    store.record(desk, visit, "plan_taken", {"plan": plan})
    assert laid_out() == ([], [("Split pin", "40\u00a0%")])
    first, _ = measured(desk, visit, 45, 36)
    assert laid_out() == (["Split pin"], [])
    store.record(desk, visit, "corrected", {"entry": str(first.entry.id)})
    slack(desk, visit, 35)
    assert laid_out() == ([], [])


def test_the_job_card_names_what_the_reading_may_bring(tab, taken):
    paper = text_of(tab, taken, "job-card")
    assert "readings decide: 21 min of labour expected" in paper
    assert "outside its limits: “Adjust the chain” comes in" in paper


def test_the_job_card_has_the_cards_that_only_another_answer_asks_for(tab, taken, desk):
    """By pencil: 1 measure, 2 grease, 3 measure again; outside 4 adjust, 5 fit the wheel; its sprocket worn 6."""
    paper = text_of(tab, taken, "job-card")
    first, outside, worn = paper.split("Only if ")
    assert "Adjust the chain" not in first.split("Order of work")[1].replace(
        "“Adjust the chain”", ""
    )
    assert outside.startswith("Chain slack outside its limits (40 %) In this order: 4 · 5 · 3")
    assert "First: Take the rear wheel off. Adjust the chain" in outside
    assert worn.startswith("Chain slack outside its limits, Play of the sprocket above 1 mm (8 %)")
    assert "In this order: 6 · 5 · 3" in worn
    measured(desk, taken, 45, 36)
    left_over = text_of(tab, taken, "job-card").split("Only if ")
    assert [part[:22] for part in left_over[1:]] == ["Play of the sprocket a"]


def test_the_service_record_says_what_was_not_needed_and_why(tab, taken, desk):
    measured(desk, taken, 35, 36)
    paper = text_of(tab, taken, "service-record")
    assert "Not needed: Adjust the chain, Chain slack 35 mm, 36 mm: within its limits" in paper


def test_the_command_prints_the_tree(tmp_path):
    got = CliRunner().invoke(
        app, ["plan", str(slack_file(tmp_path)), "chain"], env={"COLUMNS": "200"}
    )
    assert got.exit_code == 0
    assert "Readings decide" in got.output
    assert re.search(
        r"- Chain slack outside its limits: yes \(40 %\): 36.0 to 51.0 min", got.output
    )
    assert "Expected: 21.2 min of labour" in got.output


def test_the_command_line_holds_a_wish_in_the_tree_or_plans_two_technicians(tmp_path):
    asked = ["plan", str(slack_file(tmp_path)), "chain"]
    wished = CliRunner().invoke(app, [*asked, "--wish", "ready by 60"], env={"COLUMNS": "200"})
    assert "Expected: 21.2 min of labour" in wished.output
    two = CliRunner().invoke(
        app, [*asked, "--technician", "A", "--technician", "B"], env={"COLUMNS": "200"}
    )
    assert "The plan of the likeliest answers (60 %)" in two.output
    assert "Chain slack outside its limits: yes (40 %): +30 min of labour" in two.output


def test_two_technicians_take_the_likeliest_answers_and_the_others_are_priced(chain, desk, crew):
    """Not the likeliest: the wheel off and on, the chain adjusted, 30 minutes more; the order is then made anew."""
    made = planning.ordered(read(chain), ["chain"], crew)
    assert made.tree.how == "likeliest"
    assert [step.name for step in made.answer.steps] == [
        "chain/measure",
        "chain/grease",
        "chain/measure_again",
    ]
    [told, _] = branches.tree_shown(read(chain), made).alternatives
    assert told == "Chain slack outside its limits (40\u00a0%): labour 30 min more"
    store.record(desk, chain, "plan_taken", {"plan": planning.keep(chain.shop, made)})
    assert left(chain) == [step.name for step in made.answer.steps]
    first, _ = measured(desk, chain, 45, 36)
    assert not plan_progress(read(chain)).fits
    assert {"chain/adjust", "wheel_on"} <= {s.name for s in new_order(read(chain)).answer.steps}
    store.record(desk, chain, "corrected", {"entry": str(first.entry.id)})
    slack(desk, chain, 35)
    assert plan_progress(read(chain)).fits


def test_a_wish_is_planned_with_its_tree(chain, desk):
    """Ready in an hour: also where the sprocket is to be changed, 53 minutes. In half an hour not: all is planned."""
    work = read(chain)
    in_an_hour = planning.ordered(work, ["chain"], wish=Wish("ready", minute=60))
    assert in_an_hour.tree.worst.attended_minutes == 53
    assert in_an_hour.answer.attended_minutes == 8
    in_half = planning.ordered(work, ["chain"], wish=Wish("ready", minute=30))
    assert in_half.tree is None
    assert not in_half.possible
    with pytest.raises(WishError):
        planning.ordered(work, ["chain"], wish=Wish("first", "wheel"))
