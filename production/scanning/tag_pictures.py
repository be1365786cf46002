"""The tags in a picture. It is read in memory and never stored."""

from __future__ import annotations

from io import BytesIO
from typing import IO, Any

from django.core.files.uploadedfile import InMemoryUploadedFile, UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, StopFutureHandlers

from production.errors import ProductionError

MOST_BYTES = 20 * 1024 * 1024
#: More than phones take; what is larger would fill the memory of a small machine (invented).
MOST_PIXELS = 80_000_000
#: Longer edges are halved while they are read: ten tags still have enough points (invented).
ENOUGH_EDGE = 4000


class PictureError(ProductionError):
    """A picture that cannot be read; the message says what to do."""


class InMemory(FileUploadHandler):
    """Keeps an upload in memory alone: Django would put a large one on the disk for a while. What
    goes beyond the limit is not kept at all, and the file then has no content."""

    def new_file(self, *args: object, **kwargs: object) -> None:
        super().new_file(*args, **kwargs)  # type: ignore[arg-type]
        self._kept = BytesIO()
        raise StopFutureHandlers

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        if start + len(raw_data) > MOST_BYTES:
            self._kept = BytesIO()
        elif start == self._kept.tell():
            self._kept.write(raw_data)

    def file_complete(self, file_size: int) -> InMemoryUploadedFile:
        self._kept.seek(0)
        assert self.file_name is not None
        return InMemoryUploadedFile(
            self._kept,
            self.field_name,
            self.file_name,
            self.content_type or "",
            file_size,
            self.charset,
            self.content_type_extra,
        )


def tags_in(upload: UploadedFile[Any] | None) -> list[str]:
    """What the QR codes in the picture say, row by row, each once. Raises PictureError."""
    if upload is None:
        raise PictureError("No picture came; take one and send it again.")
    if (upload.size or 0) > MOST_BYTES:
        raise PictureError(
            f"The picture has more than {MOST_BYTES // 2**20} MB; take it with fewer pixels."
        )
    assert upload.file is not None
    found = _read(upload.file)
    if not found:
        raise PictureError(
            "No tag was found in the picture. Take it from nearer, in good light, with the whole "
            "square of each tag in it."
        )
    return found


def _read(file: IO[Any]) -> list[str]:
    import zxingcpp
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(file, formats=("JPEG", "PNG", "WEBP")) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise PictureError("The picture has too many pixels; take it with fewer.")
            picture.draft("L", (ENOUGH_EDGE, ENOUGH_EDGE))
            gray = picture.convert("L")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise PictureError(
            "This file is no picture that can be read; take a JPEG, PNG or WebP picture."
        ) from error
    codes = zxingcpp.read_barcodes(gray, formats=zxingcpp.BarcodeFormats(zxingcpp.QRCode))
    return list(dict.fromkeys(code.text for code in sorted(codes, key=_row_by_row)))


def _row_by_row(code: Any) -> tuple[int, int]:
    """Codes that lie beside each other are seldom level to the pixel."""
    corners = (code.position.top_left, code.position.bottom_right)
    middle_x, middle_y = (sum(getattr(at, axis) for at in corners) // 2 for axis in "xy")
    height = max(1, *(abs(corners[0].y - at.y) for at in corners[1:]))
    return round(middle_y / height), middle_x
