"""What the state tells besides what is open: the complaint, the owner, pictures, waits, devices, and in which words."""

import pytest

from tests.ledger.bench import ANN, BO, BOOK, ESTIMATE, OWNER, PLAN, TABLE, Bench, name
from witnessmark.book.model import Book
from witnessmark.ledger.effects import effects
from witnessmark.ledger.gates import gate

CAME = {"machine": name("machine"), "owner": OWNER}
SAYS = {"by": OWNER, "how": "in person"}


@pytest.fixture
def bench():
    return Bench()


def words(bench: Bench, item: str) -> str:
    return bench.state().items[item].words


# ---------------------------------------------------------------- the complaint


def test_a_complaint_waits_for_every_line_that_is_to_put_it_right(bench):
    bench.say("arrived", complaint="lever goes soft", **CAME)
    assert bench.state().complaint.model_dump() == {
        "words": "lever goes soft", "closed": False, "answer": None, "entry": "", "author": "", "at": "",
    }  # fmt: skip
    assert words(bench, "complaint") == "complaint “lever goes soft”: no answer yet"
    answer = bench.say(
        "complaint_answered", complaint="lever goes soft", how="put right", author=BO,
        lines=["covers", "brake", "nowhere"],
    )  # fmt: skip
    told = (
        "to be put right by covers, rear brake, a line that is no longer there, which is not done"
    )
    assert words(bench, "complaint") == f"complaint “lever goes soft”: {told}"
    complaint = bench.state().complaint
    assert (complaint.closed, complaint.entry, complaint.author, complaint.at) == (
        False, answer.id, BO, answer.at,
    )  # fmt: skip
    again = {"complaint": "lever goes soft", "how": "put right"}
    bench.say("complaint_answered", lines=["brake"], **again)
    for step in BOOK.jobs["brake"].operations:
        assert "complaint" in bench.open()
        bench.done(f"brake/{step}")
    assert "complaint" not in bench.open()
    assert bench.state().complaint.closed


def test_another_arrival_with_the_same_words_opens_no_answered_complaint_again(bench):
    first = bench.say("arrived", complaint="squeals", **CAME)
    bench.say("complaint_answered", complaint="squeals", how="nothing found", text="ridden")
    bench.say("corrected", entry=first.id)
    bench.say("arrived", complaint="squeals", keys=2, **CAME)
    assert bench.state().complaint.closed
    bench.say("arrived", **CAME)
    assert (bench.state().complaint, bench.open()) == (None, set())


def test_two_answers_to_a_complaint_that_did_not_meet_are_compared(bench):
    bench.say("arrived", complaint="squeals", **CAME)
    bench.say("noted", text="x", device="phone")
    said = {"complaint": "squeals", "how": "nothing found"}
    bench.say("complaint_answered", text="ridden", **said)
    bench.say("arrived", complaint="squeals", device="phone", blind=True, **CAME)
    assert "complaint" not in bench.open(), "the same words: nothing new"
    bench.say("noted", text="x", device="desk")
    bench.say("complaint_answered", text="not ridden", device="phone", blind=True, **said)
    bench.say("confirmed", items=["complaint"], device="desk", blind=True)
    assert bench.state().items["complaint"].stands == "conflict"
    bench.say("confirmed", items=["walk round"])
    assert "complaint" in bench.open()
    bench.say("confirmed", items=["complaint"])
    assert "complaint" not in bench.open()


# ---------------------------------------------------------------- the owner


def test_offers_and_answers_are_told_estimate_by_estimate(bench):
    other = "d" * 64
    first = bench.say("offered", estimate=ESTIMATE, lines=["brake", "covers"])
    bench.say("answered", estimate=ESTIMATE, line="brake", verdict="yes", **SAYS)
    bench.say("offered", estimate=other, lines=["brake", "ride"])
    old, new = bench.state().offers
    assert (old.entry, old.estimate, old.lines, old.unanswered) == (
        first.id, ESTIMATE, ("brake", "covers"), ("covers",),
    )  # fmt: skip
    assert (new.estimate, new.answers, new.unanswered) == (other, {}, ("brake", "ride"))
    assert bench.state().unanswered == ("brake", "ride")
    bench.say("answered", estimate=other, line="brake", verdict="no", **SAYS)
    old, new = bench.state().offers
    assert (old.answers["brake"].verdict, new.answers["brake"].verdict) == ("yes", "no")
    assert (bench.state().agreed, bench.state().declined) == ((), ("brake",))
    assert Bench().state().unanswered == ()


def test_of_two_limits_that_did_not_meet_the_lower_counts_and_else_the_newer(bench):
    def limit(minor: int, **more):
        return bench.say("limit_given", minor=minor, currency="EUR", **SAYS, **more)

    assert bench.state().limit is None
    limit(10_000)
    newer = limit(20_000)
    assert (bench.state().limit.minor, bench.state().limit.entry) == (20_000, newer.id)
    limit(15_000, device="phone", blind=True)
    limit(30_000, device="desk", blind=True)
    assert bench.state().limit.minor == 15_000


def test_a_job_taken_by_one_and_left_by_another_is_taken(bench):
    bench.say("job_taken", job="brake")
    bench.say("job_taken", job="covers")
    bench.say("job_left", job="covers")
    assert bench.state().jobs == {"brake": "taken", "covers": "left"}
    bench.say("job_left", job="brake")
    bench.say("job_taken", job="brake", device="phone", blind=True)
    assert bench.state().taken == ("brake",)


def test_what_an_agreed_job_brings_is_work_once_it_is_taken_on_and_nobody_said_no_to_it(bench):
    said = BOOK.model_dump()
    said["jobs"]["brake"]["brings"] = ["covers", "ride", "hold"]
    table = effects(Book.model_validate(said), list(BOOK.jobs))
    for job in ("brake", "covers", "hold"):
        bench.say("job_taken", job=job)
    bench.say("answered", estimate=ESTIMATE, line="hold", verdict="no", **SAYS)
    bench.say("answered", estimate=ESTIMATE, line="brake", verdict="yes", **SAYS)
    jobs = {item.id for item in bench.state(table).items.values() if item.kind == "job"}
    assert jobs == {"job/brake", "job/covers"}
    assert bench.open("job") == {"job/brake"}, "this book brings nothing"


def test_what_is_left_out_of_a_job_that_is_none_of_the_visits_is_not_missing(bench):
    bench.say("skipped", step="covers/on", reason="no time")
    assert bench.state().not_done == {}
    bench.say("answered", estimate=ESTIMATE, line="covers", verdict="yes", **SAYS)
    assert bench.state().not_done == {"covers/on": "no time"}


def test_what_is_agreed_and_not_done_says_what_is_left(bench):
    bench.say("line_written", words="new grips")
    own = f"own_{bench.entries[0].id[-12:]}"
    bench.say("offered", estimate=ESTIMATE, lines=["brake", own, "covers"])
    for line in ("brake", own, "covers"):
        bench.say("answered", estimate=ESTIMATE, line=line, verdict="yes", **SAYS)
    bench.done("brake/pump")
    left = "push the pads back, look at disc and hub after the ride"
    assert words(bench, "job/brake") == f"rear brake: agreed, not yet done: {left}"
    assert words(bench, f"job/{own}") == "new grips: agreed, not yet done"
    bench.say("job_left", job="covers")
    assert bench.open("job") == {"job/brake", f"job/{own}"}


# ---------------------------------------------------------------- second looks


def test_what_nobody_has_looked_at_yet_is_told_by_the_entries_of_the_work(bench):
    look = "second look/step/brake/pump"
    assert bench.state().to_look == {}
    first = bench.done("brake/pump")
    again = bench.done("brake/pump")
    assert bench.state().to_look == {look: (first.id, again.id)}
    bench.say("looked", items=["walk round", look], author=BO)
    assert (bench.state().to_look, bench.open("second look")) == ({}, set())
    later = bench.done("brake/pump")
    assert bench.state().to_look == {look: (later.id,)}


# ---------------------------------------------------------------- findings


@pytest.mark.parametrize(
    ("step", "safety", "what"),
    [
        ("brake/pump", True, "pump the lever firm"),
        ("covers/on", False, "covers on"),
        ("nowhere/x", False, "a step that the book does not have"),
    ],
)
def test_a_step_that_would_not_go_weighs_what_it_works_on(bench, step, safety, what):
    stuck = bench.say("wont", step=step, what="stuck", safe_now="tied")
    item = bench.state().items[f"wont/{stuck.id}"]
    assert (item.safety, item.gate) == (safety, "road test" if safety else "hand-back")
    assert item.text == f"{what}, stuck (safe now: tied)"
    [finding] = bench.state().findings
    assert (finding.kind, finding.text) == ("cannot be done", "stuck")
    assert (finding.safety, finding.step) == (safety, step)


@pytest.mark.parametrize(
    ("kind", "body", "told"),
    [
        ("settled", {"how": "put right"}, "put right"),
        ("settled", {"how": "told and declined"}, "told and declined"),
        ("job_taken", {"job": "covers"}, "booked as covers"),
        ("answered", {"line": "covers", "verdict": "yes", "estimate": ESTIMATE, **SAYS}, "owner says yes to covers"),
        ("answered", {"line": "covers", "verdict": "no", "estimate": ESTIMATE, **SAYS}, "told and declined"),
    ],
)  # fmt: skip
def test_a_finding_says_how_it_was_answered(bench, kind, body, told):
    found = bench.say("found", text="hose cracked", reading="pad", line="covers", step="covers/off")
    [before] = bench.state().findings
    assert (before.settled, before.reading, before.line, before.author) == ("", "pad", "covers", ANN)  # fmt: skip
    bench.say(kind, **body, **({"entry": found.id} if kind == "settled" else {"finding": found.id}))
    assert ([one.settled for one in bench.state().findings], bench.open("finding")) == ([told], set())  # fmt: skip


def test_a_finding_at_a_step_is_not_answered_by_the_step(bench):
    found = bench.say("found", text="hose cracked", step="covers/off")
    bench.say("found", text="tank dented")
    bench.say("job_taken", job="covers")
    bench.done("covers/on", along=["wheel_on"])
    bench.done("covers/off")
    bench.say("skipped", step="covers/off", reason="no time")
    assert [one.settled for one in bench.state().findings] == ["", ""]
    item = bench.state().items[f"finding/{found.id}"]
    assert (item.words, item.gate, item.closed_by) == (
        "hose cracked: no answer yet",
        "hand-back",
        (),
    )


def test_a_step_that_would_not_go_is_answered_by_whatever_takes_it_along(bench):
    bench.say("wont", step="wheel_on", what="stuck", safe_now="off")
    bench.done("drive_oil/wheel_tight", along=["wheel_on"])
    assert [one.settled for one in bench.state().findings] == ["done after all"]


def test_only_what_saw_a_finding_answers_it_and_two_answers_that_did_not_meet_close_it(bench):
    bench.say("noted", text="x", device="phone")
    found = bench.say("found", text="hose cracked")
    item = f"finding/{found.id}"
    bench.say("settled", entry=found.id, how="put right", device="phone", blind=True)
    assert item in bench.open(), "said without having seen it"
    bench.say("settled", entry=found.id, how="put right", device="phone")
    assert item not in bench.open()


# ---------------------------------------------------------------- remarks, shims, what was shown


def test_of_an_erased_picture_its_place_and_words_stay(bench):
    bench.say("noted", text="dent", step="covers/off")
    bench.say("photo", sha256=PLAN, media_type="image/png", text="tank")
    bench.say("photo", sha256=ESTIMATE, media_type="image/png")
    bench.say("erased", sha256=PLAN, why="a face", author=BO)
    assert [(r.text, r.step, r.sha256, r.erased) for r in bench.state().remarks] == [
        ("dent", "covers/off", None, False),
        ("tank", None, PLAN, True),
        ("", None, ESTIMATE, False),
    ]


def test_a_visit_says_what_came_which_book_and_order_it_goes_by_and_how_far_each_device_is(bench):
    bench.say("arrived", **CAME)
    bench.say("odometer", km=100.0, text="100 km")
    bench.say("odometer", km=200.0, text="200 km")
    bench.say("book_pinned", revision=ESTIMATE)
    bench.say("plan_taken", plan=PLAN, device="phone")
    state = bench.state()
    assert (state.machine, state.owner, state.odometer_km) == (name("machine"), OWNER, 200.0)
    assert (state.book, state.plan, state.returned) == (ESTIMATE, PLAN, None)
    assert state.heads == dict(sorted({name("tablet"): 4, name("phone"): 1}.items()))
    assert bench.say("returned").id == bench.state().returned
    bare = Bench().state()
    assert {bare.machine, bare.owner, bare.odometer_km, bare.book, bare.plan, bare.returned} == {
        None
    }


# ---------------------------------------------------------------- words of what is open


def test_what_is_open_says_how_it_stands(bench):
    bench.done("wheel_off")
    bench.tight("wheel_bolts", 1, value_nm=50.0)
    bench.tight("wheel_bolts", 2, value_nm=90.0)
    bench.done("drive_oil/drain")
    bench.done("drive_oil/fill")
    bench.done("covers/on")
    bench.say("codes_cleared")
    bench.say("read", reading="pad", step="brake/push_back", value=1.0)
    bench.say("read", reading="lining", step="linings/measure", value=1.0)
    told = {
        "fastener/wheel_bolts/1": "wheel bolt, 1 of 5: seated, not made tight to its figure",
        "fastener/wheel_bolts/2": "wheel bolt, 2 of 5: kept turning or went past its figure",
        "fastener/wheel_bolts/3": "wheel bolt, 3 of 5: loosened, not made tight",
        "thread/wheel_bolts/2": "thread and bolt of: wheel bolt, 2 of 5: "
        "kept turning or went past its figure: judge it, and put it right",
        "fastener/nut/1": "cover nut: not shown tight",
        "figure/drive_fill": "figure: drive oil: worked by without a source: give it",
        "figure/rack_torque": "figure: rack screws: worked without it: give its value and source",
        "codes": "trouble codes: found or cleared: read them again after the work",
        "reading/drive_oil/drain/magnet": "magnet: not read",
        "outside/pad/1": "pad thickness: outside its limits: write a finding, or put it right and read it again",
        "outside/lining/1": "lining: outside its limits: put it right and read it again",
        "condition/wheel": "rear wheel: is off, must be fitted",
        "walk round": "the walk round the machine, tools and rags counted: not done since something was last opened",
    }  # fmt: skip
    items = bench.state().items
    assert {key: items[key].words for key in told} == told
    assert (items["fastener/wheel_bolts/1"].where, items["codes"].where) == ("rear", "")
    unknown = bench.tight("spoke")
    assert words(bench, f"unknown/{unknown.id}") == (
        "a fastener that the book does not have: tight: names what the pinned book does not have"
    )


def test_what_two_said_differently_says_what_to_do(bench):
    bench.done("brake/pump")
    bench.say("skipped", step="brake/pump", reason="no time", device="phone", blind=True)
    bench.say("skipped", step="nowhere/x", reason="no time", device="phone", blind=True)
    bench.done("nowhere/x")
    look = "entries that did not see each other differ: look, and say which it is"
    assert words(bench, "conflict/step/brake/pump") == f"pump the lever firm: {look}"
    assert bench.state().items["conflict/step/brake/pump"].closed_by == ("brake/pump",)
    bench.say("answered", estimate=ESTIMATE, line="brake", verdict="yes", **SAYS)
    no = {"estimate": ESTIMATE, "line": "brake", "verdict": "no"} | SAYS
    bench.say("answered", device="phone", blind=True, **no)
    assert words(bench, "conflict/answer/brake") == (
        "the owner's answer to rear brake: two answers that did not see each other: ask, and record it again"
    )


def test_hand_back_says_which_device_it_waits_for(bench):
    bench.say("noted", text="x")
    tablet, phone = name("tablet"), name("phone")

    def told(**heads):
        lines = gate("hand-back", bench.state(), heads={name(d): n for d, n in heads.items()}).words
        return [line.partition(": ")[2] for line in lines]

    assert told(tablet=1) == []
    assert told(tablet=3) == ["entries not come in: 2 to 3"]
    assert told(tablet=None, phone=1) == [
        one
        for _, one in sorted(
            [(tablet, "has not said what its last entry was"), (phone, "entries not come in: 1 to 1")]
        )
    ]  # fmt: skip
    (offline,) = gate("hand-back", bench.state(), online=False).words
    assert offline == "no network: other devices' entries may be missing"
    assert gate("road test", bench.state(), heads={phone: 1}, online=False).passes
    (line,) = gate("hand-back", bench.state(), heads={phone: 1}).words
    assert line.startswith(f"device {phone[:8]}: ")


# ---------------------------------------------------------------- states that lapse


@pytest.mark.parametrize(
    ("state", "finish", "found", "fine"),
    [
        ("cold", "cold", "hot", True),
        ("hot", "cold", "hot", True),  # by way of warm
        ("warm", "hot", "hot", False),
        ("warm", "as found", "hot", False),
        ("hot", "as found", "warm", True),
        ("hot", None, "cold", True),
    ],
)
def test_a_state_is_fine_where_it_becomes_the_wanted_one_by_itself(state, finish, found, fine):
    lapses = {"hot": "warm", "warm": "cold"}
    rule = TABLE.conditions["engine"].model_copy(update={"finish": finish, "lapses": lapses})
    assert rule.fine(state, found) is fine
