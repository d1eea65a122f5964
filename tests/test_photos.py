"""Photos of a visit: what is none is refused, what is kept holds pixels alone, and it goes where the visit goes."""

import io
import struct
import zipfile
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import ROOT
from PIL import Image
from streamlit.testing.v1 import AppTest
from test_door import enter, texts

from decide.errors import ReadError
from decide.load.files.pictures import KEPT_BYTES, KEPT_PIXELS, PHOTO_MB, PHOTO_PIXELS, photo
from decide.load.store.records import Thing
from decide.load.store.store import Store
from decide.show.screens.state.session import FIRST_CASE

ENTRIES: dict[str, Any] = {"appliance": {"class": "refrigerator", "age": 12.0}, "repair": {"quote": 401.0}}
PLACE = b"Invented kitchen"


def picture(wide: int = 2400, high: int = 1800, form: str = "JPEG", **more: Any) -> bytes:
    """A picture of blotches, as a camera would see them."""
    rng = np.random.default_rng(3)
    small = rng.integers(0, 256, (high // 40 + 1, wide // 40 + 1, 3), dtype=np.uint8)
    made = io.BytesIO()
    Image.fromarray(small).resize((wide, high), Image.Resampling.BICUBIC).save(made, form, **more)
    return made.getvalue()


def with_place(turned: int = 1) -> bytes:
    """A picture that says where and when it was taken, and how the camera was held."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010E] = turned, PLACE.decode()
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0)})
    return picture(1200, 800, exif=exif, comment=PLACE)


def bomb(wide: int, high: int) -> bytes:
    """A PNG of few bytes that says it has so many pixels."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    rows = chunk(b"IDAT", zlib.compress(bytes(1_000_000)))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + rows + chunk(b"IEND", b"")


def test_a_photo_is_brought_to_a_size_that_can_be_kept() -> None:
    kept = photo("plate.jpg", picture(4000, 3000))
    assert len(kept) <= KEPT_BYTES
    assert Image.open(io.BytesIO(kept)).size == (KEPT_PIXELS, KEPT_PIXELS * 3 // 4)
    noise = io.BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(0, 256, (1600, 1600, 3), dtype=np.uint8)).save(noise, "PNG")
    assert len(photo("noise.png", noise.getvalue())) <= KEPT_BYTES


def test_what_it_says_of_place_and_time_is_gone_and_it_stands_upright() -> None:
    given = with_place(turned=6)
    assert PLACE in given
    kept = photo("plate.jpg", given)
    assert PLACE not in kept
    shown = Image.open(io.BytesIO(kept))
    assert (dict(shown.getexif()), shown.size) == ({}, (800, 1200))
    assert not {"exif", "comment", "icc_profile", "xmp"} & shown.info.keys()


def test_another_file_behind_a_picture_is_gone() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("page.html", "<script>window.hit = 1</script>")
    both = picture() + packed.getvalue()
    assert zipfile.is_zipfile(io.BytesIO(both))
    kept = photo("both.jpg", both)
    assert not zipfile.is_zipfile(io.BytesIO(kept))
    assert b"<script" not in kept


NO_PHOTO = {
    "empty": (b"", "PNG or JPEG"),
    "text": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "PNG or JPEG"),
    "another form": (picture(80, 60, "GIF"), "PNG or JPEG"),
    "cut short": (picture()[:3000], "PNG or JPEG"),
    "bomb": (bomb(100_000, 100_000), "PNG or JPEG"),
    "bomb of a side": (bomb(PHOTO_PIXELS + 1, 10), f"{PHOTO_PIXELS:,} pixels"),
    "pixels that are not there": (bomb(8_000, 8_000), "PNG or JPEG"),
    "too large": (bytes(PHOTO_MB * 1024 * 1024 + 1), f"{PHOTO_MB} MB"),
}


@pytest.mark.parametrize("name", NO_PHOTO)
def test_what_is_no_photo_is_refused_by_its_name(name: str) -> None:
    content, reason = NO_PHOTO[name]
    with pytest.raises(ReadError) as refused:
        photo("plate.jpg", content)
    assert "plate.jpg" in str(refused.value)
    assert reason in str(refused.value)


def test_spoilt_pictures_are_refused_or_drawn_anew_and_nothing_else() -> None:
    rng, given = np.random.default_rng(5), bytearray(with_place(turned=8))
    for _ in range(200):
        spoilt = bytearray(given)
        for at in rng.integers(0, 700, 4):
            spoilt[int(at)] = int(rng.integers(256))
        try:
            kept = photo("x", bytes(spoilt))
        except ReadError:
            continue
        assert Image.open(io.BytesIO(kept)).format == "JPEG"


def kept_with(store: Store) -> tuple[str, bytes]:
    content = photo("plate.jpg", picture())
    page = {"files": {"plate": "photo-plate.jpg"}}
    return store.save_visit(store.new_id(), ENTRIES, page=page, files={"photo-plate.jpg": content}).id, content


def test_it_is_in_the_back_up_and_comes_back_and_is_left_out_without_people(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "kept")) as store:
        visit, content = kept_with(store)
        paths = {people: store.export_all(tmp_path / f"{people}.zip", people) for people in (True, False)}
    for people, path in paths.items():
        with Store.open(str(tmp_path / str(people))) as other:
            other.import_all(path)
            assert other.visit(visit).files == ({"photo-plate.jpg": content} if people else {})
            assert other.check() > 0


def test_deleting_the_visit_deletes_it(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "kept")) as store:
        visit, content = kept_with(store)
        pieces = [content[at : at + 48] for at in range(1000, len(content) - 48, 5000)]
        there = b"".join(each.read_bytes() for each in (tmp_path / "kept").iterdir())
        assert any(piece in there for piece in pieces)
        store.delete(Thing("visit", visit))
        left = b"".join(each.read_bytes() for each in (tmp_path / "kept").iterdir())
    assert not any(piece in left for piece in pieces)


# on the page at the door


def with_fold(visit: str = "") -> AppTest:
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    if visit:
        page.query_params["visit"] = visit
    page.session_state["photo_fold"] = page.session_state["more"] = True
    page.run()
    assert not page.exception
    return page


def give(page: AppTest, which: str, name: str, content: bytes) -> AppTest:
    [field] = [each for each in page.file_uploader if each.key.startswith(f"photo_{which}")]
    field.set_value((name, content, "image/jpeg")).run()
    assert not page.exception
    return page


def kept_photos() -> dict[str, bytes]:
    with Store.open() as store:
        [line] = store.visits()
        return dict(store.visit(line.id).files)


@pytest.mark.slow
def test_a_photo_is_kept_with_the_visit_comes_back_and_can_be_removed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = give(enter(with_fold()), "plate", "IMG_1.jpg", with_place())
    content = photo("IMG_1.jpg", with_place())
    assert kept_photos() == {"photo-plate.jpg": content}
    give(page, "reading", "IMG_2.jpg", picture(900, 700))
    assert set(kept_photos()) == {"photo-plate.jpg", "photo-reading.jpg"}
    with Store.open() as store:
        [line] = store.visits()
        assert "files" not in store.visit(line.id).entries
    again = with_fold(line.id)
    assert again.session_state["photos"]["plate"] == content
    assert len(again.get("image")) == 2
    again.button(key="drop_photo_plate").click().run()
    assert set(kept_photos()) == {"photo-reading.jpg"}
    next(button for button in again.button if button.label == "Next").click().run()
    assert again.session_state["photos"] == {}


@pytest.mark.slow
def test_a_file_that_is_no_photo_is_refused_by_its_name_and_nothing_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = give(enter(with_fold()), "plate", "IMG_1.jpg", picture(900, 700))
    give(page, "fault", "notes.jpg", b"no picture")
    assert any("notes.jpg" in text and "PNG or JPEG" in text for text in texts(page))
    assert set(kept_photos()) == {"photo-plate.jpg"}
    give(page, "fault", "IMG_3.jpg", picture(900, 700))
    assert not any("notes.jpg" in text for text in texts(page))


@pytest.mark.slow
def test_a_photo_that_came_with_an_import_and_is_none_is_said_and_not_shown() -> None:
    with Store.open() as store:
        page, files = {"kind": "refrigerator", "files": {"plate": "photo-plate.jpg"}}, {"photo-plate.jpg": b"<svg/>"}
        visit = store.save_visit(store.new_id(), ENTRIES, page=page, files=files)
    opened = with_fold(visit.id)
    assert len(opened.get("image")) == 0
    assert any("PNG or JPEG" in text for text in texts(opened))
    opened.button(key="drop_photo_plate").click().run()
    assert opened.session_state["photos"] == {}
