"""A photo is kept upright, small, without what the camera wrote into it; what is no photo is refused."""

from contextlib import suppress
from io import BytesIO

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from witnessmark.shop import photos
from witnessmark.shop.models import PhotoKept

GPS = 0x8825  # EXIF 2.32, tag of the GPS directory
ORIENTATION = 0x0112


def picture(width: int = 3000, height: int = 1000, kind: str = "JPEG", **options) -> BytesIO:
    out = BytesIO()
    Image.new("RGB", (width, height), (200, 30, 90)).save(out, kind, **options)
    out.seek(0)
    return out


def exif() -> Image.Exif:
    """Held upright, with a place and a maker in it."""
    data = Image.Exif()
    data[ORIENTATION] = 6  # turned by 90 degrees
    data[0x010F] = "Camera maker"
    data.get_ifd(GPS)[1] = "N"
    return data


def test_a_photo_is_turned_upright_made_small_and_cleaned(desk, shop_settings):
    row = photos.keep(desk, picture(exif=exif()))
    with Image.open(photos.path_of(row.sha256)) as kept:
        assert kept.size == (683, 2048)
        assert (row.width, row.height) == kept.size
        assert dict(kept.getexif()) == {}
        assert "exif" not in kept.info


def test_the_same_photo_twice_is_one_row(desk, shop_settings):
    assert photos.keep(desk, picture()) == photos.keep(desk, picture())
    assert PhotoKept.objects.count() == 1


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "GIF", "BMP"])
def test_other_kinds_of_pictures_become_jpeg(desk, shop_settings, kind):
    row = photos.keep(desk, picture(40, 30, kind))
    with Image.open(photos.path_of(row.sha256)) as kept:
        assert (kept.format, kept.size, row.media_type) == ("JPEG", (40, 30), "image/jpeg")


def test_what_is_transparent_becomes_white(desk, shop_settings):
    out = BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    out.seek(0)
    with Image.open(photos.path_of(photos.keep(desk, out).sha256)) as kept:
        assert kept.getpixel((10, 10)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"%PDF-1.7 not a photo", "not a photo"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photo"),
        (picture().getvalue()[:3000], "damaged"),
        (picture(10_000, 10_000, "PNG").getvalue(), "more pixels"),
        (picture(6_000, 6_000, progressive=True).getvalue(), "more pixels"),
        (picture(6_000, 6_000, "GIF").getvalue(), "more pixels"),
    ],
)
def test_what_is_no_photo_is_refused_in_words(desk, shop_settings, content, says):
    with pytest.raises(photos.PhotoError, match=says) as error:
        photos.keep(desk, BytesIO(content), "front.jpg")
    assert error.value.place == "front.jpg"
    assert PhotoKept.objects.count() == 0


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data(), kind=st.sampled_from(["JPEG", "PNG", "WEBP", "GIF", "BMP"]))
def test_bytes_that_are_no_picture_any_more_are_kept_as_one_or_refused_in_words(
    desk, shop_settings, data, kind
):
    """A few bytes of a picture put to others: its own sizes and lengths lie, and nothing but words come of it."""
    content = bytearray(picture(60, 40, kind).getvalue())
    places = st.lists(st.tuples(st.integers(0, len(content) - 1), st.integers(0, 255)), max_size=8)
    for place, value in data.draw(places):
        content[place] = value
    cut = data.draw(st.integers(1, len(content)))
    with suppress(photos.PhotoError):
        photos.keep(desk, BytesIO(bytes(content[:cut])))


def test_a_photo_is_shown_to_its_shop_until_it_is_erased(
    desk, shop_settings, technician, client_of
):
    row = photos.keep(desk, picture())
    client = client_of(technician)
    answer = client.get(f"/photos/{row.pk}/")

    assert answer.headers["Content-Type"] == "image/jpeg"
    assert b"".join(answer.streaming_content) == photos.path_of(row.sha256).read_bytes()

    photos.erase(row, "asked by the owner")
    assert not photos.path_of(row.sha256).exists()
    assert client.get(f"/photos/{row.pk}/").status_code == 404
