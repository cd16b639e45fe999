"""A phone's lens is learnt once in the app; photos of that phone are then measured with it."""

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from streamlit.testing.v1 import AppTest

from photomeasure.pages._lens import lenses, with_lens
from photomeasure.photo import load_photo
from photomeasure.references.catalogue import print_of
from tests.references.projected import View, developed, ideal

ROOT = Path(__file__).parent.parent
VIEWS = ((3.0, 0.0), (32.0, 80.0), (32.0, 200.0))  # tilt, and towards where [degrees]

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


def taken(grey: NDArray[np.uint8], model: str = "") -> bytes:
    """A photo's file, as an invented phone writes it; one without a model writes nothing."""
    exif, buffer = Image.Exif(), BytesIO()
    if model:
        exif[0x010F], exif[0x0110], exif[0x0112] = "Invented", model, 1
        exif.get_ifd(0x8769)[0x920A] = 6.0  # focal length [mm]
    Image.fromarray(grey).convert("RGB").save(buffer, "JPEG", exif=exif, quality=92)
    return buffer.getvalue()


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> AppTest:
    monkeypatch.setenv("PHOTOMEASURE_JOBS", str(tmp_path))
    monkeypatch.chdir(ROOT)
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=120)
    app.query_params["at"] = "lens"
    return app.run()


def test_a_lens_is_learnt_remembered_used_and_forgotten(page: AppTest) -> None:
    rng, sheet = np.random.default_rng(4), print_of("sheet", "A4")
    photos = []
    for tilt, towards in VIEWS:
        view = View((1512, 1136), 1150.0, 300.0, tilt, towards, look_at_mm=(108.0, 140.0))
        photos.append(developed(ideal(sheet, view, samples=2), rng, blur_px=0.7))
    given = [(f"{k}.jpg", taken(grey, "P1"), "image/jpeg") for k, grey in enumerate(photos)]
    page.file_uploader(key="lens.photos").set_value(given).run()
    page.button(key="lens.learn").click().run()
    assert not page.exception
    assert "Lens of Invented P1 6 mm learnt, from 3 photos" in page.success[0].value
    (name,) = lenses()
    used = with_lens(load_photo(given[0][1])).profile
    assert used is not None
    assert used.key == lenses()[name].key
    assert with_lens(load_photo(taken(photos[0], "P2"))).profile is None  # another phone
    assert with_lens(load_photo(taken(photos[0]))).profile is None  # a file that says nothing
    page.button(key=f"lens.forget.{name}").click().run()
    assert lenses() == {}
