"""The calculators: made from the list alone, answers by address, loses nothing, writes nothing."""

import re
from urllib.parse import urlencode

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from screenshots import SIZES, faults, faults_of_size
from tests.sweep import either_size, share, swept
from witnessmark.calculators import CALCULATORS, SUBJECTS, evaluate
from witnessmark.calculators.search import search


def address(calculator, **typed):
    query = f"?{urlencode(typed)}" if typed else ""
    return reverse("calculator", args=[calculator.name]) + query


def example(calculator):
    return {asked.name: asked.example for asked in calculator.asked}


def test_every_calculator_is_listed_under_its_subject(client_of, technician):
    said = client_of(technician).get("/calculate/").content.decode()
    assert [subject for subject in SUBJECTS if f"<h2>{subject}</h2>" not in said] == []
    assert [name for name in CALCULATORS if f'href="/calculate/{name}/"' not in said] == []


def test_it_is_reached_from_any_page(client_of, technician):
    assert 'href="/calculate/"' in client_of(technician).get("/").content.decode()


def test_an_address_with_what_was_put_in_gives_the_answer(client_of, technician):
    """Of every calculator: what the core says, with formula and source; nothing has to be typed twice."""
    client = client_of(technician)
    for calculator in CALCULATORS.values():
        answer = client.get(address(calculator, **example(calculator)))
        said = evaluate(calculator, example(calculator))
        assert answer.status_code == 200, calculator.name
        shown = answer.context["answered"]
        assert (shown.said, shown.formula, shown.source) == (said.said, said.formula, said.source)
        page = answer.content.decode()
        assert page.count("<svg") == (1 if said.picture else 0)
        assert [word for word in ("Formula", "Source") if f"<dt>{word}</dt>" not in page] == []


def test_the_answer_comes_in_the_units_of_the_switch(client_of, technician):
    client = client_of(technician)
    client.cookies["units"] = "us"
    typed = {"torque": "50 N·m", "arm": "400 mm"}
    assert "lbf·ft" in client.get("/calculate/weight-for-torque/", typed).context["answered"].said


def test_a_fault_stands_at_its_field_and_what_was_typed_stays(client_of, technician):
    typed = {
        "quantity": "sixty newtons",
        "to": "lbf·ft",
        "step": "0,5",
        "tolerance": "10 %",
        "kind": "torque",
    }
    answer = client_of(technician).get(f"/calculate/convert/?{urlencode(typed)}")
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == ["quantity"]
    page = answer.content.decode()
    assert [text for text in typed.values() if text not in page] == []


def test_markup_that_is_typed_comes_back_as_text(client_of, technician):
    answer = client_of(technician).get("/calculate/convert/", {"quantity": "<script>x</script>"})
    assert b"<script>x" not in answer.content


def test_an_unknown_name_is_told_with_the_nearest(client_of, technician):
    answer = client_of(technician).get("/calculate/convret/")
    assert answer.status_code == 404
    assert "did you mean &quot;convert&quot;?" in answer.content.decode()


def test_nothing_is_written_and_nothing_can_be_sent(
    client_of, technician, django_assert_max_num_queries
):
    """Reading the sign-in is all that touches the database."""
    client = client_of(technician)
    assert client.post("/calculate/convert/", {"quantity": "60 Nm"}).status_code == 405
    with django_assert_max_num_queries(4) as asked:
        client.get("/calculate/convert/", {"quantity": "60 Nm"})
    assert [q["sql"] for q in asked.captured_queries if not q["sql"].startswith("SELECT")] == []


def links(answer):
    """The calculators that the page leads to, each once, in its order."""
    return list(
        dict.fromkeys(re.findall(r'href="/calculate/([a-z0-9-]+)/"', answer.content.decode()))
    )


def test_words_find_without_a_script_and_leave_the_rest_away(client_of, technician):
    answer = client_of(technician).get("/calculate/", {"q": "allen key"})
    assert links(answer) == ["drive-size"]
    assert "1 found" in answer.content.decode()
    assert 'value="allen key"' in answer.content.decode()


def test_as_one_types_only_the_list_comes(client_of, technician):
    client = client_of(technician)
    answer = client.get("/calculate/", {"q": "allen key"}, headers={"HX-Request": "true"})
    assert links(answer) == ["drive-size"]
    assert "<html" not in answer.content.decode()


@pytest.mark.parametrize(
    ("words", "said", "first"),
    [
        ("alen key", "Nothing is called “alen key” here. Nearest:", "drive-size"),
        ("<b>qqqq", "Nothing is called “&lt;b&gt;qqqq” here. All there is:", "convert"),
    ],
)
def test_what_finds_nothing_is_said_and_all_is_shown(words, said, first, client_of, technician):
    answer = client_of(technician).get("/calculate/", {"q": words})
    assert said in answer.content.decode()
    assert links(answer)[0] == first
    assert set(links(answer)) == CALCULATORS.keys()


def test_the_ten_used_last_come_first_on_this_device_alone(client_of, technician):
    """Used is what was answered; what was only looked at, or refused, is not."""
    client, names = client_of(technician), list(CALCULATORS)[:12]
    assert client.get("/calculate/").context["last"] == []
    for name in names:
        client.get(address(CALCULATORS[name], **example(CALCULATORS[name])))
    client.get("/calculate/charging/")
    client.get("/calculate/charging/", {"running": "x"})
    titles = [CALCULATORS[name].title for name in reversed(names)]
    assert [words for words, *_ in client.get("/calculate/").context["last"]] == titles[:10]
    client.get(address(CALCULATORS[names[5]], **example(CALCULATORS[names[5]])))
    assert client.get("/calculate/").context["last"][0][0] == CALCULATORS[names[5]].title
    assert client_of(technician).get("/calculate/").context["last"] == []  # another device


@pytest.mark.parametrize(
    "kept", ["", "nonsense", "convert.nonsense.convert", "." * 4000, "<script>"]
)
def test_what_the_device_kept_is_read_by_known_names_alone(kept, client_of, technician):
    client = client_of(technician)
    client.cookies["calculated"] = kept
    shown = [words for words, *_ in client.get("/calculate/").context["last"]]
    assert shown == (["Another unit"] if "convert" in kept else [])


@pytest.mark.browser
def test_the_list_is_two_screens_of_a_phone_at_most_and_folds(
    page, live_server, sign_in, technician
):
    """With the ten longest titles used last; one subject is open at a time."""
    page.set_viewport_size(SIZES["phone"])
    sign_in(page, technician)
    longest = sorted(CALCULATORS.values(), key=lambda one: -len(one.title))[:10]
    kept = {
        "name": "calculated",
        "value": ".".join(one.name for one in longest),
        "url": live_server.url,
    }
    page.context.add_cookies([kept])
    page.goto(f"{live_server.url}/calculate/")
    expect(page.locator(".last a")).to_have_count(10)
    height = page.evaluate("document.documentElement.scrollHeight")
    assert height <= 2 * SIZES["phone"]["height"]
    for subject in ("Fluids", "Battery and charging"):
        page.get_by_role("heading", name=subject, exact=True).click()
        expect(page.locator("details[name=subject][open] h2")).to_have_text(subject)
    assert faults(page) == []


@pytest.mark.browser
@either_size
def test_a_person_finds_by_a_word_as_it_is_typed(size, page, live_server, sign_in, technician):
    page.set_viewport_size(SIZES[size])
    sign_in(page, technician)
    page.goto(f"{live_server.url}/calculate/")
    field = page.get_by_label("Find by a word of the trade")
    expect(field).to_be_in_viewport()
    field.press_sequentially("feeler")
    expect(page.get_by_role("link", name="Valve shims")).to_be_in_viewport()
    expect(page.locator("#found a.what")).to_have_count(len(search("feeler")))
    assert faults(page) == []
    field.fill("qqqq")
    expect(page.get_by_text("Nothing is called “qqqq” here. All there is:")).to_be_visible()
    expect(page.locator("details[name=subject]")).to_have_count(len(SUBJECTS))
    assert faults(page) == []
    field.fill("")
    expect(page.locator("#found [role=status]")).to_have_count(0)
    expect(page.locator("details[name=subject]")).to_have_count(len(SUBJECTS))


@pytest.mark.browser
@either_size
def test_a_person_calculates_mistypes_and_mends_it(size, page, live_server, sign_in, technician):
    """Menu, list, form; a fault has the focus; the answer is the first thing seen."""
    page.set_viewport_size(SIZES[size])
    sign_in(page, technician)
    page.goto(live_server.url)
    page.get_by_text("Menu", exact=True).click()
    page.get_by_role("link", name="Calculate", exact=True).click()
    page.wait_for_url("**/calculate/")
    assert faults(page) == []
    page.get_by_role("heading", name="Quantities").click()
    page.get_by_role("link", name="Another unit").click()
    page.get_by_label("Quantity, with its unit").fill("60")
    page.get_by_label("Unit of the tool in hand").fill("lbf·ft")
    page.get_by_role("button", name="Calculate").click()
    expect(page.get_by_text("“60” has no unit")).to_be_visible()
    expect(page.get_by_label("Unit of the tool in hand")).to_have_value("lbf·ft")
    assert faults(page) == []
    page.get_by_label("Quantity, with its unit").fill("60 Nm")
    page.get_by_role("button", name="Calculate").click()
    expect(page.locator(".said")).to_have_text("60 N·m is 44.3 lbf·ft.")
    expect(page.locator(".said")).to_be_in_viewport()
    assert faults(page) == []


@pytest.mark.browser
@swept(6)
def test_every_answer_looks_right(page, live_server, sign_in, technician, step):
    """With its example put in: nothing for axe, nothing over the edge, nothing too small to hit."""
    sign_in(page, technician)
    problem = {}
    for calculator in share(CALCULATORS.values(), step):
        page.goto(f"{live_server.url}{address(calculator, **example(calculator))}")
        page.set_viewport_size(SIZES["tablet"])
        found = faults(page)
        page.set_viewport_size(SIZES["phone"])
        if found := found + faults_of_size(page):
            problem[calculator.name] = found
    assert problem == {}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"quantity": "distance", "unit": "km", "odometer": "48210"}, "Read as 48\u202f210 km."),
        ({"quantity": "volume", "size": "4 3/4 US qt"}, "Read as 4.75 US qt."),
        ({"quantity": "volume", "size": "5 qt"}, "“qt” is one thing in the United States"),
        ({"quantity": "distance", "unit": "km", "at": "1,234"}, "may be 1.234 km or 1234 km"),
        ({"quantity": "distance", "unit": "km", "at": ""}, ""),
    ],
)
def test_a_field_is_told_what_was_understood(client_of, technician, asked, words):
    answer = client_of(technician).get("/understood/", asked)
    assert words in answer.content.decode()
    assert bool(answer.content.strip()) == bool(words)


def test_no_quantity_of_another_name_is_understood(client_of, technician):
    assert client_of(technician).get("/understood/", {"quantity": "x"}).status_code == 404


@pytest.mark.browser
def test_a_person_sees_what_was_understood_of_the_odometer(
    page, live_server, sign_in, technician, machine
):
    page.set_viewport_size(SIZES["phone"])
    sign_in(page, technician)
    page.goto(f"{live_server.url}/arrive/?book=none")
    page.get_by_label("Odometer").press_sequentially("11000 mi")
    expect(page.get_by_text("Read as 11\u202f000 mi.")).to_be_visible()
    assert faults(page) == []
