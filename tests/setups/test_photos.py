"""Photos, sent by somebody who means harm: nothing of the file is kept but what can be seen.

Files are made with Pillow and by hand; what Exif, JPEG, PNG and WebP hold is in their own standards (tag numbers of
Exif from memory: 0x0112 orientation, 0x8825 the GPS block).
"""

from __future__ import annotations

import hashlib
import io
import json
import struct
import zlib

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from PIL import Image, ImageFile, PngImagePlugin

from setups import pictures
from setups.models import JobCard
from setups.photo_models import Photo
from setups.record import seal
from setups.record.verify import verify_shop
from setups.verbs import photos as verb
from setups.verbs.ownership import change_owner
from shops.access import everywhere, rows
from shops.models import AuditEntry
from shops.trail import Actor
from tests.factories import CustomerFactory, JobCardFactory, PhotoFactory, ReadingFactory
from tests.setups.record import conftest as invented_record
from tests.shops.cases import problem_codes

make_ready_card = invented_record.make_ready_card
WHY = "this test"
SECRET = b"52.123456 N 4.654321 E"


def picture(size=(640, 480), mode="RGB", colour=(200, 40, 30)):
    """Return a picture that is red on the left and white on the right, so that turning it shows."""
    drawn = Image.new(mode, size, "white" if mode == "RGB" else None)
    drawn.paste(colour, (0, 0, size[0] // 2, size[1]))
    return drawn


def encoded(drawn, kind="JPEG", **options):
    out = io.BytesIO()
    drawn.save(out, kind, **options)
    return out.getvalue()


def exif(orientation=1):
    """Return Exif with a place, a device and an orientation."""
    found = Image.Exif()
    found[0x0112] = orientation
    found[0x010F] = SECRET.decode()
    found.get_ifd(0x8825)[1] = "N"
    found.get_ifd(0x8825)[2] = (52.0, 7.0, 24.4)
    return found.tobytes()


def opened(content):
    return Image.open(io.BytesIO(content))


@pytest.fixture
def card(shop):
    return JobCardFactory(shop=shop)


@pytest.fixture
def at(card):
    return f"/api/cards/{card.pk}/photos/"


def send(client, at, content, about="defect", content_type="image/jpeg", **query):
    words = "&".join(f"{name}={value}" for name, value in {"about": about, **query}.items())
    return client.generic("POST", f"{at}?{words}", content, content_type=content_type)


class TestWhatIsKept:
    @pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
    def test_a_photo_comes_back_as_a_jpeg(self, technician_client, at, kind):
        answer = send(technician_client, at, encoded(picture(), kind), caption="Crack")
        assert answer.status_code == 200, answer.content
        [told] = answer.json()["photos"]
        assert (told["width_px"], told["height_px"], told["caption"], told["struck"]) == (640, 480, "Crack", False)
        shown = technician_client.get(f"{at}{told['id']}/")
        assert opened(shown.content).format == "JPEG"
        assert hashlib.sha256(shown.content).hexdigest() == told["sha256"]
        red, green, _ = opened(shown.content).getpixel((10, 200))
        assert red > 150 > green

    def test_place_device_comment_and_profile_stay_outside(self):
        from_phone = encoded(picture(), exif=exif(), comment=SECRET, icc_profile=b"profile " + SECRET)
        assert from_phone.count(SECRET) == 3
        assert opened(from_phone).getexif().get_ifd(0x8825)
        for kept in (pictures.read(from_phone).content, pictures.read(from_phone).small):
            assert SECRET not in kept
            found = opened(kept)
            assert not found.getexif()
            assert set(found.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}

    def test_xmp_and_text_of_other_kinds_stay_outside(self):
        told = PngImagePlugin.PngInfo()
        told.add_text("Comment", SECRET.decode())
        png = encoded(picture(), "PNG", pnginfo=told, exif=exif())
        webp = encoded(picture(), "WEBP", exif=exif(), xmp=SECRET)
        for sent in (png, webp):
            assert SECRET in sent
            assert SECRET not in pictures.read(sent).content

    @pytest.mark.parametrize(
        ("orientation", "red_at"),
        # Exif's orientation: 1 as it is, 3 upside down, 6 turned clockwise to show, 8 counter-clockwise.
        [(1, (10, 240)), (3, (630, 240)), (6, (240, 10)), (8, (240, 630))],
    )
    def test_it_stands_as_the_camera_meant_it(self, orientation, red_at):
        found = opened(pictures.read(encoded(picture(), exif=exif(orientation))).content)
        assert found.size == ((640, 480) if orientation in (1, 3) else (480, 640))
        red, green, _ = found.getpixel(red_at)
        assert red > 150 > green

    def test_it_is_1600_px_and_300_kb_at_most_whatever_is_in_it(self):
        noise = Image.effect_noise((4000, 3000), 120).convert("RGB")
        kept = pictures.read(encoded(noise, quality=40))
        assert len(kept.content) <= 300_000
        assert max(opened(kept.content).size) <= 1600
        assert max(opened(kept.small).size) <= 320
        assert opened(kept.content).size == (kept.width_px, kept.height_px)

    def test_what_is_transparent_becomes_white(self):
        clear = Image.new("RGBA", (64, 64), (0, 0, 0, 0))
        assert min(opened(pictures.read(encoded(clear, "PNG")).content).getpixel((32, 32))) > 240

    @pytest.mark.parametrize("mode", ["L", "P", "LA", "1", "I;16", "CMYK"])
    def test_other_kinds_of_pixels_are_read_too(self, mode):
        drawn = Image.new(mode, (64, 48))
        sent = encoded(drawn, "JPEG" if mode == "CMYK" else "PNG")
        assert opened(pictures.read(sent).content).mode == "RGB"

    def test_of_a_moving_picture_the_first_frame_is_kept(self):
        frames = [Image.new("RGB", (64, 64), colour) for colour in ("red", "blue")]
        moving = encoded(frames[0], "WEBP", save_all=True, append_images=frames[1:], lossless=True)
        red, _, blue = opened(pictures.read(moving).content).getpixel((30, 30))
        assert (red > 200, blue < 60) == (True, True)


class TestWhatIsRefused:
    def refused(self, client, at, sent, **options):
        answer = send(client, at, sent, **options)
        assert answer.status_code in {400, 415}, answer.content
        assert not everywhere(Photo, why=WHY).exists()
        return problem_codes(answer)

    @pytest.mark.parametrize(
        "sent",
        [
            b"",
            b"GIF89a" + b"\0" * 60,
            b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
            b"<html><script>alert(1)</script></html>",
            b"%PDF-1.7\n%",
            b"PK\x03\x04" + b"\0" * 60,
            b"\x7fELF" + b"\0" * 60,
        ],
    )
    def test_a_file_that_is_no_photo_whatever_it_is_called(self, technician_client, at, sent):
        assert self.refused(technician_client, at, sent) == ["no_photo"]

    @pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "ICO", "PPM"])
    def test_other_pictures_are_not_opened_at_all(self, technician_client, at, kind):
        assert self.refused(technician_client, at, encoded(picture((64, 64)), kind)) == ["no_photo"]

    @pytest.mark.parametrize("content_type", ["application/json", "text/html", "multipart/form-data"])
    def test_it_comes_as_a_picture(self, technician_client, at, content_type):
        self.refused(technician_client, at, encoded(picture()), content_type=content_type)

    def test_more_than_eight_megabytes(self, technician_client, at):
        sent = encoded(picture()) + b"\0" * (8 * 1024 * 1024)
        assert self.refused(technician_client, at, sent) == ["too_large"]

    def test_a_small_file_with_a_picture_that_fills_the_memory(self, technician_client, at):
        bomb = bare_png(30_000, 30_000)
        assert len(bomb) < 1_000_000
        assert self.refused(technician_client, at, bomb) == ["too_many_pixels"]

    @pytest.mark.parametrize("size", [(5_000, 5_000), (16_001, 10), (10, 16_001)])
    def test_too_many_pixels_are_refused_before_they_are_decoded(self, technician_client, at, monkeypatch, size):
        monkeypatch.setattr(Image.Image, "convert", lambda *_, **__: pytest.fail("it was decoded"))
        assert self.refused(technician_client, at, bare_png(*size)) == ["too_many_pixels"]

    @pytest.mark.parametrize("part", [0.2, 0.5, 0.9])
    @pytest.mark.parametrize("kind", ["PNG", "WEBP", "JPEG"])
    def test_a_broken_file(self, technician_client, at, kind, part, monkeypatch):
        # As WeasyPrint leaves it for the whole process.
        monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
        whole = encoded(Image.effect_noise((300, 300), 90).convert("RGB"), kind)
        assert self.refused(technician_client, at, whole[: int(len(whole) * part)])[0] in {"broken", "no_photo"}

    @pytest.mark.parametrize("query", [{"about": "selfie"}, {"about": ""}, {"reading": "x"}, {"caption": "x" * 201}])
    def test_what_it_shows_must_be_said(self, technician_client, at, query):
        self.refused(technician_client, at, encoded(picture()), **query)

    def test_a_reading_of_another_card_is_unknown(self, technician_client, at, shop):
        other = ReadingFactory(card=JobCardFactory(shop=shop))
        assert send(technician_client, at, encoded(picture()), about="reading", reading=other.pk).status_code == 404


def test_what_hides_behind_or_in_a_picture_is_not_kept():
    """A file that is a picture and a web page, or an archive, at once comes out as the picture alone."""
    page = b"<html><script>alert(document.cookie)</script></html>"
    behind = encoded(picture()) + page
    inside = encoded(picture(), comment=page)
    archive = encoded(picture()) + b"PK\x03\x04payload.exe" + b"\0" * 40 + b"PK\x05\x06"
    for sent in (behind, inside, archive):
        kept = pictures.read(sent)
        for content in (kept.content, kept.small):
            assert b"script" not in content
            assert b"PK\x03\x04" not in content
            assert content.endswith(b"\xff\xd9")  # JPEG's end of image: nothing follows


class TestOnTheCard:
    def test_the_same_file_again_is_the_same_photo(self, technician_client, at):
        sent = encoded(picture())
        first, again = send(technician_client, at, sent), send(technician_client, at, sent)
        assert [one["id"] for one in first.json()["photos"]] == [one["id"] for one in again.json()["photos"]]

    def test_a_card_holds_so_many_and_no_more(self, technician_client, at, card):
        PhotoFactory.create_batch(verb.MOST, card=card)
        answer = send(technician_client, at, encoded(picture()))
        assert (answer.status_code, problem_codes(answer)) == (409, ["too_many_photos"])

    def test_it_may_show_a_reading(self, technician_client, at, card):
        reading = ReadingFactory(card=card)
        told = send(technician_client, at, encoded(picture()), about="reading", reading=reading.pk).json()["photos"]
        assert [one["reading"] for one in told] == [reading.pk]

    def test_it_is_shown_so_that_no_browser_takes_it_for_anything_else(self, technician_client, at):
        [told] = send(technician_client, at, encoded(picture())).json()["photos"]
        for size in ("whole", "small"):
            shown = technician_client.get(f"{at}{told['id']}/", {"size": size})
            assert shown["Content-Type"] == "image/jpeg"
            assert shown["X-Content-Type-Options"] == "nosniff"
            assert shown["Cache-Control"] == "no-store"
            assert shown["Cross-Origin-Resource-Policy"] == "same-origin"
            assert shown["Content-Disposition"] == f'inline; filename="photo-{told["id"]}.jpg"'
        assert technician_client.get(f"{at}{told['id']}/", {"size": "huge"}).status_code == 400

    def test_the_trail_keeps_the_digest_and_not_the_caption(self, technician_client, manager, at):
        send(technician_client, at, encoded(picture()), caption="Quillon")
        line = rows(AuditEntry, manager).filter(verb="add photo").get()
        assert line.after["sha256"]
        assert "Quillon" not in json.dumps(line.after)

    @pytest.mark.parametrize("reason", ["", "  ", "x" * 301])
    def test_it_goes_with_a_reason(self, technician_client, at, card, reason):
        photo = PhotoFactory(card=card)
        assert technician_client.post(f"{at}{photo.pk}/removal/", {"reason": reason}).status_code == 400
        assert technician_client.post(f"{at}{photo.pk}/removal/", {"reason": "Blurred."}).json()["photos"] == []

    def test_a_former_owners_caption_is_kept_from_technicians(self, technician_client, technician, card):
        PhotoFactory(card=card, caption="Quillon's dent")
        change_owner(Actor(technician), card.bike, 1, owner=CustomerFactory(business=card.business), reason="Sold.")
        told = technician_client.get(f"/api/cards/{card.pk}/")
        assert "Quillon" not in told.content.decode()
        assert len(told.json()["photos"]) == 1


class TestSealed:
    @pytest.fixture
    def sealed(self, make_ready_card, technician):
        card = make_ready_card()
        verb.add_photo(Actor(technician), card, encoded(picture()), about="defect", caption="Crack")
        seal.seal(Actor(technician), card)
        return JobCard.objects.declare_scope().get(pk=card.pk)

    def test_the_record_holds_its_digest(self, sealed):
        [told] = json.loads(sealed.records.get().public)["photos"]
        content = bytes(everywhere(Photo, why=WHY).get().content)
        assert told["sha256"] == hashlib.sha256(content).hexdigest()
        assert set(told["caption"]) == {"commitment"}

    def test_it_is_struck_and_kept_and_shown_to_managers_alone(self, technician_client, manager_client, sealed):
        at, photo = f"/api/cards/{sealed.pk}/photos/", everywhere(Photo, why=WHY).get()
        told = technician_client.post(f"{at}{photo.pk}/removal/", {"reason": "Shows a face."}).json()["photos"]
        assert [one["struck"] for one in told] == [True]
        assert technician_client.get(f"{at}{photo.pk}/").status_code == 404
        assert manager_client.get(f"{at}{photo.pk}/").status_code == 200
        again = technician_client.post(f"{at}{photo.pk}/removal/", {"reason": "Shows a face."})
        assert (again.status_code, problem_codes(again)) == (409, ["struck"])

    def erase(self, client, sealed, reason="Shows a face."):
        photo = everywhere(Photo, why=WHY).get(card=sealed)
        return client.post(f"/api/cards/{sealed.pk}/photos/{photo.pk}/erasure/", {"reason": reason})

    def test_a_manager_erases_it_for_good_and_the_record_holds(self, technician_client, manager_client, sealed, shop):
        assert self.erase(technician_client, sealed).status_code == 403
        [told] = self.erase(manager_client, sealed).json()["photos"]
        assert (told["erased"], told["struck"], told["caption"]) == (True, True, "")
        photo = everywhere(Photo, why=WHY).get(card=sealed)
        assert (bytes(photo.content), bytes(photo.small)) == (b"", b"")
        assert manager_client.get(f"/api/cards/{sealed.pk}/photos/{photo.pk}/").status_code == 404
        assert "Crack" not in manager_client.get(f"/api/cards/{sealed.pk}/record/").content.decode()
        assert verify_shop(shop).failure is None
        assert problem_codes(self.erase(manager_client, sealed)) == ["erased"]
        line = everywhere(AuditEntry, why=WHY).get(verb="erase photo")
        assert (line.reason, line.before["sha256"]) == ("Shows a face.", photo.sha256)
        [told] = manager_client.get("/api/erasures/").json()["results"]
        assert (told["cards"], told["customers"]) == ([sealed.pk], [])

    def test_others_of_the_card_stay(self, make_ready_card, technician, manager_client, shop):
        card = make_ready_card()
        for colour in ((200, 40, 30), (20, 140, 30)):
            sent = encoded(picture(colour=colour))
            verb.add_photo(Actor(technician), card, sent, about="part", caption=f"Colour {colour}")
        seal.seal(Actor(technician), card)
        first, second = everywhere(Photo, why=WHY).filter(card=card).order_by("pk")
        manager_client.post(f"/api/cards/{card.pk}/photos/{second.pk}/erasure/", {"reason": "Shows a face."})
        first.refresh_from_db()
        assert first.content
        texts = manager_client.get(f"/api/cards/{card.pk}/record/").json()["texts"]
        assert texts["photos.0.caption"] == first.caption
        assert "photos.1.caption" not in texts
        assert verify_shop(shop).failure is None

    def test_on_an_open_card_it_is_removed_instead(self, manager_client, card):
        photo = PhotoFactory(card=card)
        answer = manager_client.post(f"/api/cards/{card.pk}/photos/{photo.pk}/erasure/", {"reason": "Shows a face."})
        assert (answer.status_code, problem_codes(answer)) == (409, ["not_sealed"])

    def test_emptied_by_another_hand_it_is_missed(self, sealed, shop):
        everywhere(Photo, why=WHY).filter(card=sealed).update(content=b"", small=b"", erased_at=sealed.opened_at)
        assert "photo" in verify_shop(shop).failure.why

    def test_no_photo_comes_on_later(self, technician_client, sealed):
        answer = send(technician_client, f"/api/cards/{sealed.pk}/photos/", encoded(picture((65, 65))))
        assert (answer.status_code, problem_codes(answer)) == (409, ["sealed"])

    @pytest.mark.parametrize("how", ["changed", "taken away"])
    def test_verification_finds_a_photo_that_was(self, sealed, shop, how):
        assert verify_shop(shop).failure is None
        held = everywhere(Photo, why=WHY).filter(card=sealed)
        if how == "changed":
            held.update(content=encoded(picture((64, 64), colour=(0, 0, 200))))
        else:
            held.delete()
        failure = verify_shop(shop).failure
        assert failure is not None
        assert "photo" in failure.why
        with pytest.raises((CommandError, SystemExit)):
            call_command("verify")


def bare_png(width, height):
    """Return a valid PNG of white pixels, made by hand: Pillow would have to hold it whole to write it."""

    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)  # one bit a pixel, greyscale
    packer = zlib.compressobj(9)
    line = b"\0" + b"\xff" * ((width + 7) // 8)
    packed = b"".join(packer.compress(line) for _ in range(height)) + packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
