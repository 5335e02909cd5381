"""Photos: bytes on disk under their hash, upright, without EXIF (place, time, owner of the camera)."""

import hashlib
import os
import tempfile
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, NamedTuple
from uuid import UUID

from django.conf import settings
from django.http import FileResponse, Http404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET
from PIL import Image, ImageOps, UnidentifiedImageError

from witnessmark.errors import WitnessError
from witnessmark.kept_versions import KeptError
from witnessmark.shop.models import PhotoKept, Shop
from witnessmark.shop.scope import Desk, DeskRequest

LONGEST_PX = 2048
SENT_PX, SENT_QUALITY = 1280, 60  # a page as it goes to another shop; judged by us
MOST_BYTES = 40 * 1024 * 1024
MOST_PIXELS = 120_000_000  # of a JPEG, which is read at an eighth of its size
MOST_DECODED = 25_000_000  # of what must be decoded whole: about 0.3 GB of memory
FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "BMP")  # JPEG opens the MPO of phones too


class PhotoError(WitnessError):
    """A file that is no photo we can keep."""


def keep(desk: Desk, file: BinaryIO, name: str = "photo") -> PhotoKept:
    """Store a photo once per shop; the same picture again gives the same row.

    Turned upright, at most 2048 px long, as JPEG without EXIF. Raises PhotoError (`place` is the
    file's name) for what is no photo, damaged or beyond reason.
    """
    return put(desk.shop, made(file, name))


class Made(NamedTuple):
    """A photo as it would be kept."""

    content: bytes
    sha256: str
    width: int
    height: int


def made(file: BinaryIO, name: str = "photo") -> Made:
    """What `keep` would store of a file. Writes nothing. Raises PhotoError."""
    picture = _upright(_read(file, name), name)
    content = _jpeg(picture)
    return Made(content, hashlib.sha256(content).hexdigest(), picture.width, picture.height)


def put(shop: Shop, photo: Made) -> PhotoKept:
    """Store it for a shop."""
    _write(path_of(photo.sha256), photo.content)
    row, _rest = PhotoKept.of(shop).get_or_create(
        shop=shop,
        sha256=photo.sha256,
        defaults={"media_type": "image/jpeg", "width": photo.width, "height": photo.height},
    )
    kept: PhotoKept = row
    return kept


def to_send(row: PhotoKept) -> bytes | None:
    """A photo of a page, as small as it can still be read; None where its bytes are not here."""
    if row.erased_on or fault(row):
        return None
    with Image.open(path_of(row.sha256), formats=FORMATS) as picture:
        picture.thumbnail((SENT_PX, SENT_PX))
        return _jpeg(picture, SENT_QUALITY)


def path_of(sha256: str) -> Path:
    """Where the bytes of a photo lie."""
    return Path(settings.PHOTOS) / sha256[:2] / f"{sha256}.jpg"


def erase(row: PhotoKept, because: str) -> None:
    """Delete the bytes, in this shop's name only; the hash and the reason remain."""
    row.erased_on, row.erased_because = timezone.localdate(), because
    row.save(update_fields=["erased_on", "erased_because"])
    if not PhotoKept.objects.filter(sha256=row.sha256, erased_on=None).exists():
        path_of(row.sha256).unlink(missing_ok=True)


@require_GET
@cache_control(private=True, max_age=31536000, immutable=True)
def picture(request: DeskRequest, photokept: UUID) -> FileResponse:
    """The photo itself, to members of its shop."""
    row = request.desk.get(PhotoKept, photokept)
    if row.erased_on:
        raise Http404(_("this photo was erased"))
    problem = fault(row)
    if problem:
        raise KeptError(
            _("this photo"), problem, _("run `witnessmark verify`, and restore it from a backup")
        )
    return FileResponse(path_of(row.sha256).open("rb"), content_type=row.media_type)


def fault(row: PhotoKept) -> str:
    """What is wrong with the bytes of a photo that was not erased; empty where they are as kept."""
    try:
        content = path_of(row.sha256).read_bytes()
    except FileNotFoundError:
        return _("is not in the folder of photos")
    except OSError as error:
        return _("cannot be read: {strerror}").format(strerror=error.strerror)
    return (
        ""
        if hashlib.sha256(content).hexdigest() == row.sha256
        else _("was changed since it was kept")
    )


def _read(file: BinaryIO, name: str) -> bytes:
    content = file.read(MOST_BYTES + 1)
    if not content:
        raise PhotoError(name, _("the file is empty"), _("take the photo again"))
    if len(content) > MOST_BYTES:
        raise PhotoError(
            name, _("the file is larger than 40 MB"), _("send a photo as the camera takes it")
        )
    return content


def _upright(content: bytes, name: str) -> Image.Image:
    """The picture turned as it was held, in RGB, no longer than LONGEST_PX."""
    try:
        photo = Image.open(BytesIO(content), formats=FORMATS)  # reads no more than its header
        _refuse_too_many_pixels(photo, name)
        photo.verify()
        photo = Image.open(BytesIO(content), formats=FORMATS)
        photo.draft("RGB", (LONGEST_PX, LONGEST_PX))
        photo.load()
        image = _on_white(ImageOps.exif_transpose(photo))
    except UnidentifiedImageError:
        raise PhotoError(
            name, _("is not a photo this shop can read"), _("send a JPEG, PNG or WebP picture")
        ) from None
    except PhotoError:
        raise
    except Exception as error:  # whatever a decoder makes of bytes that are no picture
        raise PhotoError(
            name, _("the picture is damaged"), _("take it again or send it again")
        ) from error
    image.thumbnail((LONGEST_PX, LONGEST_PX))
    return image


def _refuse_too_many_pixels(photo: Image.Image, name: str) -> None:
    """Raise PhotoError for a picture whose decoding would take more memory than a photo does."""
    scaled = photo.format in {"JPEG", "MPO"} and not photo.info.get("progressive")
    most = MOST_PIXELS if scaled else MOST_DECODED
    if photo.width * photo.height > most:
        raise PhotoError(name, _("has more pixels than a photo"), _("send it in a smaller size"))


def _on_white(image: Image.Image) -> Image.Image:
    """RGB, with white where it was transparent."""
    if not image.has_transparency_data:
        return image.convert("RGB")
    layer = image.convert("RGBA")
    paper = Image.new("RGB", layer.size, "white")
    paper.paste(layer, mask=layer.getchannel("A"))
    return paper


def _jpeg(image: Image.Image, quality: int = 85) -> bytes:
    image.info.clear()  # EXIF, GPS, comments
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def _write(path: Path, content: bytes) -> None:
    """Write whole and to the disk, or not at all."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as draft:
        try:
            draft.write(content)
            draft.flush()
            os.fsync(draft.fileno())
            Path(draft.name).replace(path)
        except OSError:
            Path(draft.name).unlink()
            raise
