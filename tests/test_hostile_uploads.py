"""Uploads that mean harm, or are nothing: each is refused with a sentence, none is kept."""

import io
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from photomeasure.pages import _picture as _picture_page

ROOT = Path(__file__).parent.parent
SLOW_S = 120
JPEG_HEAD = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"

pytestmark = [
    # Streamlit's harness and its server's libraries warn of their own deprecations
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


def _png_chunk(kind: bytes, data: bytes) -> bytes:
    check = struct.pack(">L", zlib.crc32(kind + data))
    return struct.pack(">L", len(data)) + kind + data + check


def _png(width: int, height: int, rows: bytes) -> bytes:
    head = struct.pack(">LLBBBBB", width, height, 8, 0, 0, 0, 0)
    body = _png_chunk(b"IHDR", head) + _png_chunk(b"IDAT", zlib.compress(rows))
    return b"\x89PNG\r\n\x1a\n" + body + _png_chunk(b"IEND", b"")


def _picture(kind: str, size: tuple[int, int] = (640, 480), *, noise: bool = False) -> bytes:
    held = io.BytesIO()
    shown = np.random.default_rng(1).integers(0, 255, (*size[::-1], 3)).astype(np.uint8)
    shown = shown if noise else shown // 8 + 60
    Image.fromarray(shown).save(held, kind)
    return held.getvalue()


def _zipped(name: str, content: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr(name, content)
    return held.getvalue()


HOSTILE = {
    "nothing": b"",
    "one byte": b"\xff",
    "words": b"no picture at all",
    "zeros": b"\0" * 100_000,
    "jpeg cut off": JPEG_HEAD,
    "jpeg cut in half": _picture("JPEG")[:9000],
    "jpeg with a wrong end": _picture("JPEG")[:-2000] + b"\0" * 2000,
    "png cut off": _png(640, 480, b"\0" * 641 * 480)[:60],
    "png bomb": _png(60_000, 60_000, b"\0" * 1_000_000),
    "png of no width": _png(0, 480, b""),
    "png of odd length": _png(640, 480, b"\0" * 10),
    "gif bomb": b"GIF89a\xff\xff\xff\xff\xf7\x00\x00" + b"\0" * 768 + b"\x3b",
    "gif": _picture("GIF"),
    "bmp": _picture("BMP"),
    "tiff bomb": b"II*\x00\x08\x00\x00\x00" + b"\xff" * 4000,
    "webp head": b"RIFF\xff\xff\xff\x7fWEBPVP8 " + b"\0" * 100,
    "heic head": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 200,
    "svg with a script": b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    "svg with an entity": b"<!DOCTYPE s [<!ENTITY x SYSTEM 'file:///etc/passwd'>]><svg>&x;</svg>",
    "html": b"<html><script>alert(1)</script></html>",
    "python": b"import os\nos.system('true')\n",
    "shell": b"#!/bin/sh\ntouch /tmp/evil\n",
    "pickle": b"cos\nsystem\n(S'true'\ntR.",
    "program": b"\x7fELF\x02\x01\x01" + b"\0" * 500,
    "windows program": b"MZ" + b"\0" * 500,
    "pdf": b"%PDF-1.7\n1 0 obj<</OpenAction<</S/JavaScript>>>>endobj\n%%EOF",
    "zip": _zipped("../../evil.txt", b"x"),
    "zip bomb": _zipped("photo.jpg", b"\0" * 20_000_000),
    "gzip": zlib.compress(b"\0" * 10_000),
    "picture and zip in one": _picture("JPEG") + _zipped("../evil.txt", b"x"),
    "picture and script in one": JPEG_HEAD + b"<script>alert(1)</script>",
    "tiny picture": _picture("PNG", (2, 2)),
    "picture of noise": _picture("PNG", (240, 240), noise=True),
    "picture of nothing": _picture("PNG"),
    "long thin picture": _picture("PNG", (20_000, 3)),
}
NAMES = (
    "photo.jpg",
    "../../../etc/passwd.jpg",
    "..\\..\\evil.png",
    "/etc/cron.d/evil.jpeg",
    "a" * 400 + ".jpg",
    "new\nline.jpg",
    "<img src=x onerror=alert(1)>.jpg",
    "${HOME}.png",
    "photo.jpg.exe.webp",
    "\u202egnp.exe.heic",
)

Fitting = Callable[[str, bytes], AppTest]


@pytest.fixture
def uploaded(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Fitting:
    """Upload something to the page that measures a thread."""
    monkeypatch.setenv("PHOTOMEASURE_JOBS", str(tmp_path / "jobs"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.chdir(ROOT)

    def upload(name: str, data: bytes) -> AppTest:
        app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=SLOW_S)
        app.query_params["at"] = "fitting"
        app.run()
        app.file_uploader(key="fitting.photos").set_value([(name, data, "image/jpeg")])
        return app.run()

    return upload


@pytest.mark.parametrize("kind", HOSTILE)
def test_it_is_refused_with_a_sentence(uploaded: Fitting, tmp_path: Path, kind: str) -> None:
    name = NAMES[list(HOSTILE).index(kind) % len(NAMES)]
    app = uploaded(name, HOSTILE[kind])
    assert not app.exception
    assert app.error, "nothing was said"
    assert "What to do:" in app.error[0].value
    assert not (tmp_path / "state").exists()  # refused, not stumbled over
    assert not list((tmp_path / "jobs").rglob("photos/*"))  # and not kept
    assert not list(tmp_path.rglob("*evil*"))


def test_too_many_photos_are_refused(uploaded: Fitting) -> None:
    app = uploaded("photo.jpg", b"x")
    files = [(f"{n}.jpg", b"x", "image/jpeg") for n in range(9)]
    app.file_uploader(key="fitting.photos").set_value(files)
    app.run()
    assert "9 photos are too many" in app.error[0].value


def test_marks_from_a_browser_stay_few_and_inside_the_picture(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sent = SimpleNamespace(marks=[[float("nan"), 7.0], [0.2, -1e308]] * 1000)
    monkeypatch.setattr(_picture_page, "_component", lambda: lambda **_: sent)
    shown = _picture_page.Shown(marks=1, most=3)
    marks = _picture_page.picture(b"a jpeg", "key", "a photo", shown)
    assert marks == [[0.0, 1.0], [0.2, 0.0], [0.0, 1.0]]
