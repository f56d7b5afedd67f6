"""Pictures as a phone takes them: with the place, the time and the camera in them."""

from io import BytesIO

from PIL import Image

GPS_IFD, MAKE, DATE_TIME, ORIENTATION = 0x8825, 0x010F, 0x0132, 0x0112
GPS_LATITUDE_REF, GPS_LATITUDE = 1, 2
COMMENT = b"taken at the north gate"


def with_place(width: int = 800, height: int = 600, *, turned: bool = False, kind: str = "JPEG") -> bytes:
    """A picture whose EXIF names a place; `turned`: the camera lay on its side (EXIF orientation 6)."""
    picture = Image.new("RGB", (width, height), "darkgreen")
    picture.paste("white", (0, 0, width // 4, height // 4))
    exif = Image.Exif()
    exif[MAKE], exif[DATE_TIME], exif[ORIENTATION] = "Invented Camera", "2026:07:01 10:00:00", 6 if turned else 1
    exif.get_ifd(GPS_IFD)[GPS_LATITUDE_REF] = "N"
    exif.get_ifd(GPS_IFD)[GPS_LATITUDE] = (59.0, 5.0, 30.0)
    out = BytesIO()
    picture.save(out, kind, exif=exif.tobytes(), **({"comment": COMMENT} if kind == "JPEG" else {}))
    return out.getvalue()
