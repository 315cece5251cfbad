"""Photos: small, without metadata, and never a reason for a page to fail."""

from base64 import b64decode
from io import BytesIO
from pathlib import Path

from PIL import Image

from stripdown import pages
from stripdown.pages.photos import load
from tests.pages import cases


def _jpeg(path: Path, size: tuple[int, int] = (3000, 2000)) -> None:
    exif = Image.Exif()
    exif[0x010F] = "maker of the camera"
    exif[0x0112] = 6  # turned by 90 degrees
    Image.new("RGB", size, (120, 90, 60)).save(path, "JPEG", exif=exif)


def test_scaled_upright_and_without_metadata(tmp_path: Path) -> None:
    _jpeg(tmp_path / "a.jpg")
    photo = load(str(tmp_path), "a.jpg")
    assert (photo.width, photo.height, photo.notice) == (480, 720, "")
    raw = b64decode(photo.data)
    assert b"maker of the camera" not in raw
    assert dict(Image.open(BytesIO(raw)).getexif()) == {}


def test_same_picture_same_bytes(tmp_path: Path) -> None:
    _jpeg(tmp_path / "a.jpg")
    assert load(str(tmp_path), "a.jpg") == load(str(tmp_path), "a.jpg")


def test_what_is_no_picture_says_so(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_text("not a picture <script>")
    (tmp_path / "b.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    (tmp_path / "c.jpg").write_bytes(b"\xff\xd8\xff\xe0 cut short")
    for name in ("a.jpg", "b.svg", "c.jpg"):
        assert load(str(tmp_path), name).notice == "the file is no picture that can be opened"
    assert load(str(tmp_path), "gone.jpg").notice == "the file is missing"
    assert load(str(tmp_path), "nul\0.jpg").notice == "the file cannot be read"


def test_nothing_outside_the_folder_is_read(tmp_path: Path) -> None:
    inside = tmp_path / "claim"
    inside.mkdir()
    _jpeg(tmp_path / "secret.jpg")
    (inside / "link.jpg").symlink_to(tmp_path / "secret.jpg")
    for name in ("../secret.jpg", str(tmp_path / "secret.jpg"), "link.jpg"):
        assert load(str(inside), name).notice == "the path leaves the record's folder: not read"


def test_a_picture_that_expands_without_end_is_not_opened(tmp_path: Path) -> None:
    Image.new("1", (30000, 30000)).save(tmp_path / "bomb.png")
    assert (tmp_path / "bomb.png").stat().st_size < 1_000_000
    assert load(str(tmp_path), "bomb.png").notice == "the picture has more than 60 million pixels: not opened"


def test_page_shows_the_photo_or_the_reason(tmp_path: Path) -> None:
    _jpeg(tmp_path / "a.jpg")
    html = pages.sections.found(cases.floodback(tmp_path, "a.jpg"))
    assert html.count('src="data:image/jpeg;base64,') == 1
    assert 'alt="main bearing worn (heavy); rotor rubbed (heavy)"' in html
    assert "the file is missing" in pages.sections.found(cases.floodback(tmp_path, "b.jpg"))
    assert len(pages.case_pdf(cases.floodback(tmp_path, "a.jpg"))) > len(pages.case_pdf(cases.floodback()))
