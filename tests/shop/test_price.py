"""The price: offered whole, answered line by line, and never dearer than what was agreed."""

import re
from decimal import Decimal
from html import unescape
from io import BytesIO

import pytest
from pypdf import PdfReader

from screenshots import faults
from witnessmark.money import ExtraLine
from witnessmark.money.rounding import half_up
from witnessmark.shop import content_store, store
from witnessmark.shop.models import DeclinedLine, EstimateKept, PlanKept
from witnessmark.shop.pages.price.totals import PriceView
from witnessmark.shop.templatetags.in_every_template import money
from witnessmark.shop.work import planning, pricing
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres  # and on SQLite, as everything


@pytest.fixture
def shop(shop):
    """A shop that charges 60 an hour and a fifth of tax."""
    shop.labour_per_hour, shop.tax_rates, shop.usual_tax = (
        Decimal(60),
        {"standard": "20"},
        "standard",
    )
    shop.save()
    return shop


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def fields(page) -> dict:
    """The hidden fields of the first form on the page that has a ticket."""
    said = page.content.decode()
    return dict(
        re.findall(r'name="(?:limit-)?(entry_id|estimate|rest|by)" value="([^"]+)"', said)
    ) | {"seen": re.search(r'name="seen" value="([^"]*)"', said)[1].replace("&quot;", '"')}


def path(visit, page="price", rest=""):
    return f"/visits/{visit.pk}/{page}/{rest}"


def offer(tab, visit):
    return tab.post(path(visit, rest="offer/"), fields(tab.get(path(visit))))


def answered(tab, visit, **verdicts):
    told = {f"answer-{line}": verdict for line, verdict in verdicts.items()}
    sent = fields(tab.get(path(visit))) | told | {"how": "by telephone"}
    return tab.post(path(visit, rest="answers/"), sent)


def test_looking_at_the_price_keeps_nothing(tab, visit):
    said = tab.get(path(visit)).content.decode()

    assert "Offer €56.40" in said  # 47 minutes at 60 an hour are 47, and a fifth of tax
    assert not EstimateKept.objects.exists()
    assert not PlanKept.objects.exists()
    assert "price not agreed yet" in tab.get("/").content.decode(), "nobody was asked"


def test_an_offer_keeps_the_estimate_and_the_plan_it_rests_on(tab, visit):
    assert offer(tab, visit).status_code == 303

    state = store.state(visit)
    estimate = pricing.estimate_kept(visit.shop, state.offers[0].estimate)
    assert state.offers[0].lines == ("tyre", "lights")
    assert PlanKept.objects.filter(sha256=estimate.plan).exists()
    assert (estimate.gross_minor, estimate.book) == (5640, state.book)


def test_a_price_that_changed_meanwhile_is_not_offered_unseen(tab, visit, desk, shop):
    sent = fields(tab.get(path(visit)))
    shop.labour_per_hour = 90
    shop.save()
    got = tab.post(path(visit, rest="offer/"), sent)

    assert got.status_code == 422
    assert "has changed since" in got.content.decode()
    assert store.state(visit).offers == ()


def test_what_has_no_price_is_named_and_not_offered(tab, machine, desk, visit, shop):
    """The small book uses no parts; a part is put into it."""
    from witnessmark.book.model import Part

    book = content_store.book_of(shop, machine.book.current.sha256)
    swap = book.jobs["tyre"].operations["swap"].model_copy(update={"parts": {"valve": 1.0}})
    tyre = book.jobs["tyre"].model_copy(update={"operations": {"swap": swap}})
    book = book.model_copy(
        update={"jobs": book.jobs | {"tyre": tyre}, "parts": {"valve": Part(text="Tyre valve")}}
    )
    pinned = content_store.keep_book(shop, book)
    store.record(desk, visit, "book_pinned", {"revision": pinned.current.sha256})

    page = tab.get(path(visit))
    said = page.content.decode()
    assert "Change the rear tyre: Tyre valve" in said
    assert "Offer €" not in said
    got = tab.post(path(visit, rest="offer/"), fields(page) | {"estimate": read(visit).state.book})
    assert got.status_code == 422
    assert store.state(visit).offers == ()


def test_only_what_is_still_part_of_the_work_waits_for_an_answer(visit, desk):
    """A job left since does not; an addition from before own lines had entries does."""
    extra = ExtraLine(id="seal", text="New fork seal", fixed_minor=4000)
    made = pricing.priced(read(visit), ["tyre", "lights"], [extra])
    estimate, lines = pricing.keep_offer(visit.shop, made), ["tyre", "lights", "seal"]
    store.record(desk, visit, "offered", {"estimate": estimate, "lines": lines})
    assert list(pricing.waiting(read(visit))) == lines
    store.record(desk, visit, "job_left", {"job": "lights"})
    assert list(pricing.waiting(read(visit))) == ["tyre", "seal"]


def test_yes_to_all_in_one_tap(tab, visit):
    offer(tab, visit)
    sent = fields(tab.get(path(visit))) | {"how": "by telephone", "all": "yes"}
    got = tab.post(path(visit, rest="answers/"), sent)

    state = store.state(visit)
    assert got.status_code == 303
    assert set(state.agreed) == {"tyre", "lights"}
    answer = state.offers[0].answers["tyre"]
    assert (answer.by, answer.how) == (state.owner, "by telephone")
    assert "At most €56.40 with tax" in tab.get(path(visit)).content.decode()


def test_before_a_no_is_recorded_the_owner_is_told_what_the_rest_costs(tab, visit):
    offer(tab, visit)
    got = answered(tab, visit, tyre="no", lights="yes")

    said = got.content.decode()
    assert got.status_code == 422
    assert "Tell the owner first." in said
    assert "€3.60" in said  # three minutes of looking at the lights
    assert "€52.80 less" in said
    assert store.state(visit).agreed == store.state(visit).declined == ()

    again = fields(got) | {"answer-tyre": "no", "answer-lights": "yes", "how": "in person"}
    assert tab.post(path(visit, rest="answers/"), again).status_code == 303


def test_what_was_typed_and_told_stands_when_the_answers_are_asked_again(tab, visit):
    """However the owner said it missing, then the rest not told: neither takes the other away."""
    offer(tab, visit)
    noes = {"answer-tyre": "no", "answer-lights": "yes"}
    got = answered(tab, visit, tyre="no", lights="yes")
    assert re.search(r'value="by telephone"[^>]* checked', got.content.decode())

    first = tab.post(path(visit, rest="answers/"), fields(tab.get(path(visit))) | noes)
    assert "Tell the owner first." in first.content.decode()
    assert "Choose one." in first.content.decode()
    sent = fields(first) | noes | {"how": "in person"}
    assert tab.post(path(visit, rest="answers/"), sent).status_code == 303
    assert store.state(visit).agreed == ("lights",)


def declined(tab, visit):
    """The tyre declined, the lights agreed, after he was told."""
    offer(tab, visit)
    got = answered(tab, visit, tyre="no", lights="yes")
    told = fields(got) | {"answer-tyre": "no", "answer-lights": "yes", "how": "in person"}
    return tab.post(path(visit, rest="answers/"), told)


def test_a_declined_line_leaves_the_work_and_stays_with_the_machine(tab, visit, machine):
    declined(tab, visit)

    state = store.state(visit)
    assert state.taken == ("lights",)
    assert state.declined == ("tyre",)
    row = DeclinedLine.objects.get()
    assert (row.machine, row.line, row.words) == (machine, "tyre", "Change the rear tyre")


def test_the_rest_is_agreed_at_the_price_he_was_told(tab, visit):
    """A new revision without the declined line is offered, and his yes is said to that one."""
    declined(tab, visit)

    first, second = store.state(visit).offers
    assert second.lines == ("lights",)
    assert second.answers["lights"].verdict == "yes"
    assert pricing.accepted(read(visit))["lights"].net_minor == 300
    assert first.answers["tyre"].verdict == "no"


def test_a_job_added_after_the_offer_makes_a_new_revision_and_leaves_the_yes_alone(
    tab, visit, desk, shop
):
    store.record(desk, visit, "job_left", {"job": "tyre"})
    offer(tab, visit)
    answered(tab, visit, lights="yes")
    shop.labour_per_hour = 120
    shop.save()
    store.record(desk, visit, "job_taken", {"job": "tyre"})

    said = tab.get(path(visit)).content.decode()
    assert "This is a new revision." in said
    assert "agreed before, at most €3.60 with tax" in said
    assert (
        ", at most €109.20: what was agreed" in said
    )  # 44 min at 120 and the lights as agreed, with tax
    offer(tab, visit)
    assert store.state(visit).offers[-1].lines == ("tyre",)
    assert pricing.accepted(read(visit))["lights"].net_minor == 300


def test_a_job_left_for_later_is_told_with_who_why_and_what_it_means_for_the_price(
    tab, visit, desk, machine
):
    """On the price, at hand-back and in the owner's record; one never taken on was not left."""
    offer(tab, visit)
    answered(tab, visit, tyre="yes", lights="yes")
    before = pricing.agreed(read(visit))["tyre"].gross_minor
    store.record(desk, visit, "job_left", {"job": "tyre", "because": "tyre comes on Friday"})
    store.record(desk, visit, "done", {"step": "lights/look"})
    price = money(before, "EUR")
    for page in ("price", "handback"):
        said = re.sub(
            r"\s+", " ", re.sub(r"<[^>]+>", " ", tab.get(path(visit, page)).content.decode())
        )
        assert re.search(
            rf"Left for later Change the rear tyre Tyre comes on Friday · Mara, \d+ \w+ \d{{4}}, \d\d:\d\d "
            rf"Agreed at {price}: not charged unless it is done\.", unescape(said),
        ), page  # fmt: skip
    pages = PdfReader(BytesIO(tab.get(path(visit, "papers", "service-record.pdf")).content)).pages
    record = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert re.search(r"Change the rear tyre .*Left for later: .*Mara", record)
    assert re.search(r"Agreed at .*, not charged", record)
    store.record(desk, visit, "job_taken", {"job": "tyre"})
    assert "Left for later" not in tab.get(path(visit)).content.decode()


def changed(tab, visit, answer: str):
    """Another answer, and the page that tells what it comes to before it is recorded."""
    sent = fields(tab.get(path(visit))) | {"how": "by telephone", "answer": answer}
    told = tab.post(path(visit, rest="change/"), sent)
    return told, tab.post(path(visit, rest="change/"), fields(told) | sent | {"told": "1"})


def test_the_answer_is_changed(tab, visit):
    declined(tab, visit)
    told, got = changed(tab, visit, "yes/tyre")
    assert (told.status_code, got.status_code) == (422, 303)

    state = store.state(visit)
    assert set(state.taken) == {"lights", "tyre"}
    assert set(state.agreed) == {"lights", "tyre"}
    assert not DeclinedLine.objects.exists()


def test_a_no_to_an_agreed_line_is_told_first_and_then_stands_once(tab, visit):
    """From the bench to the price: what is left, at the prices agreed; recorded by the next button."""
    offer(tab, visit)
    answered(tab, visit, tyre="yes", lights="yes")
    assert (
        f'href="{path(visit)}#change"' in tab.get(path(visit, "bench", "owner/")).content.decode()
    )
    sent = fields(tab.get(path(visit))) | {"how": "by telephone", "answer": "no/tyre"}
    told = tab.post(path(visit, rest="change/"), sent)
    said = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", told.content.decode()))
    assert "Without “Change the rear tyre”, €52.80, at most €3.60 with tax." in said
    assert set(store.state(visit).agreed) == {"tyre", "lights"}, "nothing is recorded yet"

    got = tab.post(path(visit, rest="change/"), fields(told) | sent | {"told": "1"}, follow=True)
    said = unescape(got.content.decode())
    assert "Change the rear tyre: no." in said
    assert store.state(visit).declined == ("tyre",)
    assert "Left for later" not in said, "it is listed as declined"
    assert "No price was agreed" not in said


def test_a_line_agreed_keeps_the_price_told_whatever_becomes_of_the_others(tab, visit, shop):
    """Tax is rounded once on the sum: without the other line this one's share would be another."""
    shop.tax_rates, shop.labour_per_hour = {"standard": "19"}, Decimal(64)
    shop.save()
    offer(tab, visit)
    answered(tab, visit, tyre="yes", lights="yes")
    before = {one.line.id: one.gross_minor for one in PriceView(read(visit)).agreed_lines()}
    for name in ("tyre", "lights"):
        changed(tab, visit, f"no/{name}")
        (left,) = PriceView(read(visit)).agreed_lines()
        assert left.gross_minor == before[left.line.id]
        changed(tab, visit, f"yes/{name}")


def test_a_line_that_became_dearer_says_from_what_and_why(tab, visit, desk, machine):
    """Two jobs share the wheel; without the one the other carries its minutes alone."""
    book = content_store.book_of(machine.shop, machine.book.current.sha256)
    wheel = book.jobs["tyre"].model_copy(update={"text": "Balance the wheel"})
    stored = content_store.keep_book(
        machine.shop, book.model_copy(update={"jobs": book.jobs | {"wheel": wheel}})
    )
    store.record(desk, visit, "book_pinned", {"revision": stored.current.sha256})
    store.record(desk, visit, "job_taken", {"job": "wheel"})
    offer(tab, visit)
    shared = pricing.waiting(read(visit))["wheel"]
    got = answered(tab, visit, tyre="no", lights="yes")
    tab.post(
        path(visit, rest="answers/"),
        fields(got) | {"answer-tyre": "no", "answer-lights": "yes", "how": "in person"},
    )
    alone = pricing.waiting(read(visit))["wheel"]
    more = (alone.line.labour_tenths - shared.line.labour_tenths) / 10
    assert more > 0
    was = money(shared.gross_minor, "EUR")
    assert f"offered before at {was}; {more:.0f} min of work it shared" in unescape(
        tab.get(path(visit)).content.decode()
    )


def limit_of(amount, page) -> dict:
    said = fields(page)
    return said | {"limit-by": said["by"], "limit-how": "in writing", "limit-amount": amount}


def test_do_up_to_so_much_without_asking(tab, visit):
    sent = limit_of("150,50", tab.get(path(visit)))
    assert tab.post(path(visit, rest="limit/"), sent).status_code == 303

    limit = store.state(visit).limit
    assert (limit.minor, limit.currency, limit.how) == (15050, "EUR", "in writing")


def test_a_limit_that_is_no_amount_is_refused_and_stays_as_typed(tab, visit):
    got = tab.post(path(visit, rest="limit/"), limit_of("about 100", tab.get(path(visit))))

    assert got.status_code == 422
    assert "about 100" in got.content.decode()
    assert "is no amount of EUR" in got.content.decode()
    assert store.state(visit).limit is None


def test_once_work_has_begun_only_what_is_new_is_priced(tab, visit, desk):
    store.record(desk, visit, "job_left", {"job": "tyre"})
    offer(tab, visit)
    answered(tab, visit, lights="yes")
    store.record(desk, visit, "done", {"step": "lights/look"})
    store.record(desk, visit, "job_taken", {"job": "tyre"})
    offer(tab, visit)

    newest = store.state(visit).offers[-1]
    assert newest.lines == ("tyre",)
    assert [line.id for line in pricing.estimate_kept(visit.shop, newest.estimate).lines] == [
        "tyre"
    ]
    assert store.state(visit).agreed == ("lights",)


def test_an_estimate_is_shown_again_as_it_was_offered(tab, visit, shop):
    offer(tab, visit)
    sha256 = store.state(visit).offers[0].estimate
    shop.labour_per_hour = 500
    shop.save()

    said = tab.get(path(visit, rest=f"estimates/{sha256}/")).content.decode()
    assert "€56.40" in said
    assert tab.get(path(visit, rest=f"estimates/{'0' * 64}/")).status_code == 404


@pytest.fixture
def bringing(desk, machine, visit):
    """The small book, in which the lights are looked at with every tyre."""
    book = content_store.book_of(machine.shop, machine.book.current.sha256)
    tyre = book.jobs["tyre"].model_copy(update={"brings": ["lights"]})
    stored = content_store.keep_book(
        machine.shop, book.model_copy(update={"jobs": book.jobs | {"tyre": tyre}})
    )
    store.record(desk, visit, "book_pinned", {"revision": stored.current.sha256})
    return visit


def test_what_another_job_brings_is_on_its_line_agreed_and_declined_with_it(tab, bringing):
    """The lights have no line that could be refused; their three minutes are billed with the tyre."""
    offer(tab, bringing)
    assert store.state(bringing).offers[0].lines == ("tyre",)
    answered(tab, bringing, tyre="yes")
    work = read(bringing)
    assert planning.to_do(work) == ["tyre", "lights"]
    assert pricing.accepted(work)["tyre"].labour_tenths == 470

    changed(tab, bringing, "no/tyre")
    assert store.state(bringing).taken == ()


def test_what_is_brought_twice_is_billed_once(tab, bringing, desk, machine):
    """The tyre is agreed with the lights on its line; the wheel, which brings them too, comes without them."""
    book = content_store.book_of(machine.shop, store.state(bringing).book)
    wheel = book.jobs["tyre"].model_copy(update={"text": "Balance the wheel"})
    stored = content_store.keep_book(
        machine.shop, book.model_copy(update={"jobs": book.jobs | {"wheel": wheel}})
    )
    store.record(desk, bringing, "book_pinned", {"revision": stored.current.sha256})
    offer(tab, bringing)
    answered(tab, bringing, tyre="yes")
    store.record(desk, bringing, "job_taken", {"job": "wheel"})
    offer(tab, bringing)

    state = store.state(bringing)
    assert state.offers[1].lines == ("wheel",)
    made = pricing.estimate_kept(bringing.shop, state.offers[1].estimate)
    assert made.line("tyre").labour_tenths - made.line("wheel").labour_tenths == 30


@pytest.mark.parametrize(
    ("rules", "minor"),
    [
        ({"labour_minimum": Decimal(10)}, 4400 + 1000),
        ({"labour_step": Decimal(5)}, 4500 + 500),
        ({"flat_prices": {"small": {"tyre": 3900}}}, 3900 + 300),
        ({"flat_prices": {"other book": {"tyre": 3900}}}, 4700),
    ],
    ids=["at least", "a multiple", "flat", "flat in another book"],
)
def test_labour_is_billed_as_the_shop_bills(tab, visit, machine, shop, rules, minor):
    """44 and 3 minutes at 60 an hour: at least 10.00 a line, in steps of 5.00, or at a flat price."""
    name = content_store.book_of(shop, machine.book.current.sha256).name
    for field, value in rules.items():
        mine = {name: value["small"]} if field == "flat_prices" and "small" in value else value
        setattr(shop, field, mine)
    shop.save()
    estimate = pricing.priced(read(visit), ["tyre", "lights"]).estimate
    assert estimate.net_minor == minor


def test_page_estimate_and_record_say_the_same_to_the_cent(tab, visit, shop):
    """Two lines whose taxes, rounded each by itself, would sum to a cent more."""
    shop.tax_rates, shop.labour_per_hour = {"standard": "19"}, Decimal(64)
    shop.save()
    estimate = pricing.priced(read(visit), ["tyre", "lights"]).estimate
    each = [half_up(line.net_minor * Decimal("1.19")) for line in estimate.lines]
    assert sum(each) != estimate.gross_minor
    whole = f"€{estimate.gross_minor / 100:.2f}"

    assert f"Offer {whole}" in tab.get(path(visit)).content.decode()
    offer(tab, visit)
    assert f"<strong>{whole}</strong> with tax" in tab.get(path(visit)).content.decode()
    answered(tab, visit, tyre="yes", lights="yes")
    said = tab.get(path(visit)).content.decode()
    assert f"At most {whole} with tax" in said
    assert sum(line.gross_minor for line in PriceView(read(visit)).agreed_lines()) == (
        estimate.gross_minor
    )
    made = pricing.ceiling(read(visit), ["tyre", "lights"])  # as the record charges
    assert made.gross_minor == estimate.gross_minor


def test_from_what_has_no_price_a_link_leads_to_its_field_and_back(tab, machine, desk, visit, shop):
    from witnessmark.book.model import Part

    book = content_store.book_of(shop, machine.book.current.sha256)
    swap = book.jobs["tyre"].operations["swap"].model_copy(update={"parts": {"valve": 1.0}})
    tyre = book.jobs["tyre"].model_copy(update={"operations": {"swap": swap}})
    book = book.model_copy(
        update={"jobs": book.jobs | {"tyre": tyre}, "parts": {"valve": Part(text="Tyre valve")}}
    )
    pinned = content_store.keep_book(shop, book)
    store.record(desk, visit, "book_pinned", {"revision": pinned.current.sha256})
    said = tab.get(path(visit)).content.decode()
    assert "so far</strong>: one thing has no price yet." in said
    assert "Total with tax" not in said
    link = re.search(r'href="(/shop/prices/[^"]+#id_valve)"', said)[1].replace("&amp;", "&")
    address = link.partition("#")[0]
    prices = tab.get(address).content.decode()
    assert prices.index('id="id_valve"') < prices.index("Flat prices of jobs")
    assert "other part" not in prices  # it has this one alone
    went = tab.post(address, {"valve": "2.50"})
    assert (went.status_code, went.url) == (303, path(visit))
    assert "No price yet" not in tab.get(path(visit)).content.decode()
    away = address.partition("?")[0] + "?back=//elsewhere.example/"
    assert tab.post(away, {"valve": "2.60"}).url == "/shop/prices/"


def test_declining_everything_leaves_nothing_to_do(tab, visit):
    offer(tab, visit)
    got = answered(tab, visit, tyre="no", lights="no")
    assert "nothing is left" in got.content.decode()
    sent = fields(got) | {"answer-tyre": "no", "answer-lights": "no", "how": "in person"}
    tab.post(path(visit, rest="answers/"), sent)

    assert store.state(visit).taken == ()
    assert set(store.state(visit).declined) == {"tyre", "lights"}
    assert "No job is booked." in tab.get(path(visit)).content.decode()


def test_jobs_that_cannot_all_be_done_have_no_price_and_it_says_where_to_look(
    tab, visit, desk, machine
):
    book = content_store.book_of(machine.shop, machine.book.current.sha256)
    look = (
        book.jobs["lights"].operations["look"].model_copy(update={"needs": {"rear_wheel": ["off"]}})
    )
    off = {k: v for k, v in book.access.items() if k != "wheel_off"}
    lights = book.jobs["lights"].model_copy(update={"operations": {"look": look}})
    book = book.model_copy(update={"jobs": book.jobs | {"lights": lights}, "access": off})
    stored = content_store.keep_book(machine.shop, book)
    store.record(desk, visit, "book_pinned", {"revision": stored.current.sha256})

    said = tab.get(path(visit)).content.decode()
    assert "There is no order in which all of this can be done" in said
    assert "Look at the order of work" in said
    assert "Offer €" not in said


@pytest.mark.parametrize(("minor", "code", "said"), [(1234, "EUR", "€12.34"), (1234, "IQD", "IQD1.234"),
                                                     (1234, "JPY", "JP¥1,234"), (None, "EUR", "—")])  # fmt: skip
def test_money_is_shown_with_the_decimals_of_iso_4217(minor, code, said):
    """The common locale data would show dinars without any."""
    assert money(minor, code).replace("\xa0", "") == said


@pytest.mark.browser
def test_with_scripts_the_rest_is_told_as_no_is_tapped_and_one_tap_records(
    page, live_server, sign_in, technician, visit, client_of
):
    offer(client_of(technician), visit)
    sign_in(page, technician)
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{live_server.url}{path(visit)}")
    stops = page.locator(".thread")
    assert stops.evaluate("it => it.scrollWidth <= it.clientWidth"), "every stop is seen"
    page.locator("label.tile", has=page.locator("input[name=answer-tyre][value=no]")).click()
    rest = page.locator("#rest")
    rest.get_by_text("€3.60").wait_for()
    assert "€52.80 less" in rest.inner_text()
    assert faults(page) == []
    page.locator("label.tile", has=page.locator("input[name=answer-lights][value=yes]")).click()
    page.wait_for_load_state("networkidle")
    page.locator("label.tile", has_text="in person").first.click()
    page.get_by_role("button", name="Record the answers").click()
    page.get_by_text("1 line agreed. Declined:").wait_for()

    assert store.state(visit).agreed == ("lights",)
    assert faults(page) == []
