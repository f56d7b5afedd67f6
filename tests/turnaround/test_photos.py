"""Pictures: smaller, upright, and nothing of their place, time or camera left; what is no picture is refused."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.refusal import Refused
from service.turnaround import photos
from tests.turnaround.pictures import COMMENT, GPS_IFD, GPS_LATITUDE, with_place


def kept(content: bytes) -> tuple[Image.Image, bytes]:
    data = photos.cleaned(SimpleUploadedFile("IMG.jpg", content)).read()
    return Image.open(BytesIO(data)), data


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_place_time_and_camera_are_gone(kind: str) -> None:
    given = with_place(kind=kind)
    assert Image.open(BytesIO(given)).getexif().get_ifd(GPS_IFD)[GPS_LATITUDE], "the given picture names its place"
    picture, data = kept(given)
    assert picture.format == "JPEG"
    assert dict(picture.getexif()) == {}
    assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for trace in (b"Exif", b"Invented", b"GPS", COMMENT, b"2026:07:01"):
        assert trace not in data


def test_a_large_picture_is_made_smaller_and_a_turned_one_upright() -> None:
    picture, _data = kept(with_place(4000, 3000))
    assert picture.size == (1600, 1200)
    picture, _data = kept(with_place(800, 600, turned=True))
    assert picture.size == (600, 800)
    red, green, _blue = picture.getpixel((599, 0))
    assert red > 200 and green > 200, "the white corner went from the upper left to the upper right"


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "0 bytes"),
        (b"<svg onload=alert(1)>", "cannot be read"),
        (with_place()[:400], "cannot be read"),
        (b"GIF89a" + bytes(64), "cannot be read"),
    ],
)
def test_what_is_no_picture_is_refused(content: bytes, why: str) -> None:
    with pytest.raises(Refused, match=why):
        kept(content)


def test_too_many_bytes_or_pixels_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MAX_BYTES", 1000)
    with pytest.raises(Refused, match=r"has \d+ bytes; 1 to 1000 are taken"):
        kept(with_place())
    monkeypatch.setattr(photos, "MAX_BYTES", 10**7)
    monkeypatch.setattr(photos, "MAX_PIXELS", 1000)
    with pytest.raises(Refused, match="cannot be read"):
        kept(with_place())
