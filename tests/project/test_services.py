"""The services that other tests stand on are the real ones."""

import os

import pytest


@pytest.mark.browser
def test_a_real_chromium_runs_a_page(page):
    page.set_content(
        "<output></output><script>document.querySelector('output').value = 6 * 7</script>"
    )
    assert page.locator("output").inner_text() == "42"
    assert "Chrom" in page.evaluate("navigator.userAgent")


@pytest.mark.postgres
@pytest.mark.django_db
def test_the_database_of_the_run_is_the_one_asked_for():
    from django.db import connection

    asked = os.environ.get("DATABASE_URL", "sqlite:").partition(":")[0]
    assert connection.vendor == asked
    with connection.cursor() as cursor:
        cursor.execute("SELECT 6 * 7")
        assert cursor.fetchone() == (42,)
