"""The type: static, subset, with every sign that dimensional work writes; made once, embedded for the renderer."""

from __future__ import annotations

import base64
import re
from io import BytesIO
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from labsys.pages import fonts, samples
from tests.labsys.pages.test_corridor_svg import markup

NEEDED = "0123456789+−±µ°Ω≤≥αδνΔσ·×–—‘’“”→↑↓✓"
STYLE = Path(__file__).parents[3] / "labsys" / "static" / "labsys" / "style" / "fonts.css"


pytestmark = pytest.mark.usefixtures("built_assets")


@pytest.fixture(autouse=True)
def _fresh_css() -> None:
    fonts.font_faces_css.cache_clear()


@pytest.mark.parametrize("face", fonts.FACES, ids=lambda face: face.name)
@pytest.mark.parametrize("kind", ["woff2", "ttf"])
def test_files(face: fonts.Face, kind: str) -> None:
    font = TTFont(fonts.folder() / f"{face.name}.{kind}")
    assert "fvar" not in font
    points = font.getBestCmap()
    assert [sign for sign in NEEDED if ord(sign) not in points] == []
    assert font["OS/2"].usWeightClass == face.weight
    features = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
    assert {"zero", "case"} <= features


def test_figures_and_signs_share_one_width() -> None:
    """Decimals align only so. Source Sans 3 has tabular figures as its default."""
    font = TTFont(fonts.folder() / "source-sans-3-400.ttf")
    points, metrics = font.getBestCmap(), font["hmtx"]
    widths = {metrics[points[ord(sign)]][0] for sign in "0123456789+−±"}
    assert len(widths) == 1


def test_a_second_build_does_nothing_and_a_half_made_one_is_mended() -> None:
    assert not fonts.build()
    path = fonts.folder() / "source-serif-4-600.woff2"
    before = path.read_bytes()
    path.unlink()
    assert not fonts.is_built()
    path.write_bytes(before)
    assert fonts.is_built()


def test_the_stamp_depends_on_what_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    assert fonts.is_built()
    monkeypatch.setattr(fonts, "SIGNS", fonts.SIGNS + "ж")
    assert not fonts.is_built()


def test_embedded_faces_are_the_files() -> None:
    css = fonts.font_faces_css(embed=True)
    assert "http" not in css
    assert css.count("@font-face") == len(fonts.FACES)
    for held in re.findall(r"base64,([^\"]+)", css):
        assert "glyf" in TTFont(BytesIO(base64.b64decode(held)))


def test_faces_by_address_are_those_of_the_style_sheet() -> None:
    names = set(re.findall(r"fonts/([a-z0-9-]+)\.woff2", STYLE.read_text()))
    assert names == {face.name for face in fonts.FACES}
    assert names == set(re.findall(r"fonts/([a-z0-9-]+)\.woff2", fonts.font_faces_css(embed=False)))


def test_a_missing_file_is_named(tmp_path: Path, settings: object) -> None:
    settings.ASSETS_DIR = tmp_path  # type: ignore[attr-defined]
    with pytest.raises(fonts.FontsMissing, match="build_assets"):
        fonts.font_faces_css(embed=True)


def test_the_pdf_is_set_in_our_own_type() -> None:
    from pypdf import PdfReader
    from weasyprint import HTML

    picture = markup(samples.special_corridors()[2], "row")
    style = f"<style>{fonts.font_faces_css(embed=True)} p {{font-family: 'Source Sans 3'}}</style>"
    pdf = HTML(string=f"{style}<p>U = 6.2 µm ± Ω ≤ −0,5</p>{picture}").write_pdf()
    assert pdf is not None
    page = PdfReader(BytesIO(pdf)).pages[0]
    assert "6.2 µm ± Ω ≤ −0,5" in page.extract_text()
    assert "0.00 ± 0.19" in page.extract_text().replace("\N{NO-BREAK SPACE}", " ")
    names = [str(font.get_object()["/BaseFont"]) for font in page["/Resources"]["/Font"].values()]  # type: ignore[index]
    assert all("Source" in name for name in names), names
