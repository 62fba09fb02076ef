"""Makes of a file that somebody sent a JPEG of our own: nothing of the file is kept but what can be seen.

What a file is, its bytes say, never its name or what the browser called it. It is decoded and drawn anew, so that
its metadata (where and when it was taken, by which device, comments, embedded previews) and whatever else hides in
it or behind it stay outside. Limits on bytes and on pixels come before decoding: a small file can hold a picture
that fills the memory.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from calc.refusal import Refusal
from calc.words import say
from shops.refusals import wrong

LARGEST_BYTES = 8 * 1024 * 1024
LARGEST_PX, SMALL_PX = 1600, 320
KEPT_BYTES = 300_000
FORMATS = ("JPEG", "PNG", "WEBP")
_MOST_PIXELS = {"JPEG": 64_000_000}
_MOST_PIXELS_ELSE = 24_000_000
"""A JPEG is decoded at a fraction of its size; the others need all of their pixels in memory at once."""
_LONGEST_SIDE = 16_000
_QUALITIES = (85, 75, 65, 50, 35)


@dataclass(frozen=True)
class Picture:
    """A photo as it is kept: two JPEGs, and the size in pixels of the larger."""

    content: bytes
    small: bytes
    width_px: int
    height_px: int


def read(sent: bytes) -> Picture:
    """Return the photo in `sent` as we keep it: upright, at most 1,600 px, at most 300 kB, without metadata.

    Raises Refusal for a file that is larger than 8 MB, no JPEG, PNG or WebP, has too many pixels, or is broken.
    """
    if len(sent) > LARGEST_BYTES:
        most = LARGEST_BYTES // 1024 // 1024
        raise _no("too_large", say("The photo is larger than {most} MB; take a smaller one.", most=most))
    try:
        with warnings.catch_warnings():
            # Pillow warns of what may be a bomb; here that refuses.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = _upright(sent)
    except UnidentifiedImageError:
        raise _no("no_photo", say("This is no JPEG, PNG or WebP picture.")) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _no("too_many_pixels", say("The picture has too many pixels; take a smaller one.")) from None
    except Refusal:
        raise
    except Exception as error:  # a decoder fed with a broken file raises whatever it likes
        text = say("The picture cannot be read: it is broken ({name}).", name=type(error).__name__)
        raise _no("broken", text) from None
    picture.thumbnail((LARGEST_PX, LARGEST_PX), Image.Resampling.LANCZOS)
    small = picture.copy()
    small.thumbnail((SMALL_PX, SMALL_PX), Image.Resampling.LANCZOS)
    content, kept = _encoded(picture)
    return Picture(content, _encoded(small)[0], *kept.size)


def _upright(sent: bytes) -> Image.Image:
    """Decode the first frame, turned as the camera meant it, on white, as a new picture that knows nothing else."""
    # WeasyPrint, once imported, lets the whole process take half a picture; a photo must have arrived whole.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    with Image.open(io.BytesIO(sent), formats=FORMATS) as opened:
        width, height = opened.size
        known = "JPEG" if opened.format in ("JPEG", "MPO") else opened.format or ""
        if width * height > _MOST_PIXELS.get(known, _MOST_PIXELS_ELSE) or max(width, height) > _LONGEST_SIDE:
            text = say(
                "The picture has {width} × {height} pixels, which is too many; take a smaller one.",
                width=width, height=height,
            )
            raise _no("too_many_pixels", text)
        if known == "JPEG":
            opened.draft("RGB", (LARGEST_PX, LARGEST_PX))
        opened.seek(0)
        opened.load()
        turned = ImageOps.exif_transpose(opened)
    drawn = Image.new("RGB", turned.size, "white")
    if turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info:
        seen = turned.convert("RGBA")
        drawn.paste(seen, mask=seen.getchannel("A"))
    else:
        drawn.paste(turned.convert("RGB"))
    return drawn


def _encoded(picture: Image.Image) -> tuple[bytes, Image.Image]:
    """Return the picture as a JPEG of at most `KEPT_BYTES`, coarser or smaller where it must be, and what it shows."""
    while True:
        for quality in _QUALITIES:
            out = io.BytesIO()
            picture.save(out, "JPEG", quality=quality, optimize=True)
            if out.tell() <= KEPT_BYTES:
                return out.getvalue(), picture
        picture = picture.resize((max(1, picture.width * 3 // 4), max(1, picture.height * 3 // 4)))


def _no(code: str, text: str) -> Refusal:
    return wrong("photo", code, text)
