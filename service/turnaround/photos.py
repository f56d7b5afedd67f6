"""A picture of a finding, made anew from its pixels: smaller, upright, without its place, time or camera."""

from io import BytesIO
from typing import Any
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from PIL import Image, ImageOps, UnidentifiedImageError

from fleet.refusal import Refused

FORMATS = ("JPEG", "PNG", "WEBP")
MAX_BYTES = 12 * 1024 * 1024
MAX_PIXELS = 60_000_000
SIDE_PX = 1600
JPEG_QUALITY = 82


def cleaned(file: "UploadedFile[Any]") -> "ContentFile[bytes]":
    """The picture as a JPEG of at most SIDE_PX a side, under a random name; raises Refused where it is none."""
    size = file.size or 0
    if not 0 < size <= MAX_BYTES:
        raise Refused(
            _("The picture has %(size)d bytes; 1 to %(most)d are taken. Take it again, smaller.")
            % {"size": size, "most": MAX_BYTES}
        )
    try:
        return ContentFile(_jpeg(file), f"{uuid4().hex}.jpg")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError) as problem:
        raise Refused(
            _("The picture cannot be read: take it again as JPEG, PNG or WebP, at most %(most)d megapixels.")
            % {"most": MAX_PIXELS // 1_000_000}
        ) from problem


def _jpeg(file: "UploadedFile[Any]") -> bytes:
    with Image.open(file, formats=FORMATS) as given:
        if given.width * given.height > MAX_PIXELS:
            raise ValueError(f"{given.width} x {given.height} pixels")
        given.draft("RGB", (SIDE_PX, SIDE_PX))
        upright = ImageOps.exif_transpose(given)
        upright.thumbnail((SIDE_PX, SIDE_PX))
        # A new picture takes over pixels and nothing else: no EXIF, no comment, no profile.
        plain = Image.new("RGB", upright.size, "white")
        with_alpha = upright.convert("RGBA")
        plain.paste(with_alpha, mask=with_alpha.getchannel("A"))
    out = BytesIO()
    plain.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True)
    return out.getvalue()
