"""What is typed is never lost: faults beside their fields, two editors of one row, htmx or not."""

import pytest
from django import forms
from playwright.sync_api import expect

from screenshots import faults
from tests.shop import form_page
from witnessmark.shop.forms import QuantityField, SheetModelForm
from witnessmark.shop.models import Owner


class OwnerForm(SheetModelForm):
    class Meta:
        model = Owner
        fields = ("name", "phone", "address")


def as_posted(form: forms.Form, **typed: str) -> dict[str, str]:
    """What a browser sends from a rendered form, its hidden fields among it."""
    sent = {}
    for field in form:
        sent[field.html_name] = str(field.value() or "")
        sent[field.html_initial_name] = str(field.value() or "")
    return sent | typed


def test_two_people_who_edit_one_row_both_keep_what_they_changed(machine):
    """Desk and tablet open the same owner; each changes one field; neither is lost."""
    owner = machine.owner
    at_the_desk = as_posted(OwnerForm(instance=owner), phone="555 0199")
    at_the_tablet = as_posted(OwnerForm(instance=owner), address="Quay 3")

    for sent in (at_the_desk, at_the_tablet):
        form = OwnerForm(sent, instance=Owner.objects.get(pk=owner.pk))
        assert form.is_valid(), form.errors
        form.save()

    owner.refresh_from_db()
    assert (owner.name, owner.phone, owner.address) == ("Ines Calder", "555 0199", "Quay 3")


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        (QuantityField("torque"), "44 lbf·ft", 59.66),
        (QuantityField("distance", unit="km"), "48210", 48210),
        (QuantityField("distance", unit="km"), "30000 mi", 48280.32),
        (QuantityField("length", unit="mm"), "2,5", 2.5),
    ],
)
def test_a_quantity_is_read_with_its_unit_or_the_one_beside_the_field(field, typed, value):
    assert field.clean(typed).value == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("typed", "says"),
    [("60", "unit"), ("180 ml", "volume"), ("sixty N·m", "number"), ("", "required")],
)
def test_a_quantity_that_is_none_says_what_is_wrong(typed, says):
    with pytest.raises(forms.ValidationError) as error:
        QuantityField("torque").clean(typed)
    assert says in " ".join(error.value.messages).lower()


@pytest.fixture
def form_at(page, live_server, settings, technician, sign_in):
    """Opens the page with one form, boosted by htmx or plain."""
    settings.ROOT_URLCONF = form_page.__name__
    form_page.stored.clear()
    sign_in(page, technician)

    def opened(how: str):
        page.goto(f"{live_server.url}/form/{how}/")
        return page

    return opened


@pytest.mark.browser
@pytest.mark.parametrize("how", ["plain", "boosted"])
def test_an_invalid_form_comes_back_with_all_that_was_typed(form_at, how):
    """Under htmx as without: faults beside their fields, the first of them in focus, nothing lost."""
    page = form_at(how)
    told = []
    page.on("console", lambda m: told.append(m.text) if m.type == "error" else None)
    page.get_by_label("Note").fill("left bolt was loose")
    page.get_by_label("Torque").fill("12 ml")
    page.get_by_label("Distance").fill("48210")
    page.get_by_label("two").check()
    with page.expect_response(lambda r: r.request.method == "POST") as answer:
        page.get_by_role("button", name="Store").click()

    assert answer.value.status == 422
    expect(page.locator(".field.wrong")).to_have_count(2)
    expect(page.get_by_label("Torque")).to_be_focused()
    expect(page.get_by_label("Note")).to_have_value("left bolt was loose")
    expect(page.get_by_label("Torque")).to_have_value("12 ml")
    expect(page.get_by_label("Distance")).to_have_value("48210")
    expect(page.get_by_label("two")).to_be_checked()
    assert faults(page) == []
    assert form_page.stored == []

    page.get_by_label("Torque").fill("12 N·m")
    page.get_by_label("The owner agreed").check()
    page.get_by_role("button", name="Store").click()
    expect(page.locator(".message")).to_have_text("Stored.")
    assert len(form_page.stored) == 1
    assert [line for line in told if "422" not in line] == []


@pytest.mark.browser
def test_a_store_that_does_not_answer_is_said_and_nothing_is_lost(form_at):
    """With the wireless gone, htmx would drop the tap without a word."""
    page = form_at("boosted")
    page.get_by_label("Note").fill("left bolt was loose")
    page.context.set_offline(True)
    page.get_by_role("button", name="Store").click()

    expect(page.get_by_role("alert")).to_contain_text("No connection to the server")
    expect(page.get_by_label("Note")).to_have_value("left bolt was loose")


@pytest.mark.browser
def test_a_form_works_without_scripts(browser, live_server, settings, technician, client_of):
    settings.ROOT_URLCONF = form_page.__name__
    form_page.stored.clear()
    page = browser.new_context(java_script_enabled=False).new_page()
    cookie = client_of(technician).cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    page.goto(f"{live_server.url}/form/boosted/")
    page.get_by_label("Torque").fill("12 ml")
    page.get_by_role("button", name="Store").click()

    expect(page.get_by_label("Torque")).to_have_value("12 ml")
    page.get_by_label("Torque").fill("12 N·m")
    page.get_by_label("Distance").fill("10 mi")
    page.get_by_label("one").check()
    page.get_by_label("The owner agreed").check()
    page.get_by_role("button", name="Store").click()
    expect(page.locator(".message")).to_have_text("Stored.")
    assert [one["torque"].value for one in form_page.stored] == [12]
    page.context.close()
