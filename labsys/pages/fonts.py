"""The two type families as static, subset files: WOFF2 for pages, TrueType for the PDF renderer, from the same source.

A certificate never depends on the machine's fonts, so the renderer gets them embedded (`font_faces_css`).
Needs the font packages only while building; what is built is stamped and made again only when its making changes.
"""

from __future__ import annotations

import base64
import hashlib
import json
import logging
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module, metadata
from io import BytesIO
from pathlib import Path

from django.conf import settings

from labsys.errors import LabError

# Raise where the making itself changes, so that old files are made again.
RECIPE = 1

# Basic Latin and Latin-1, Latin Extended-A for names, and the signs that dimensional work writes.
RANGES: tuple[tuple[int, int], ...] = ((0x20, 0x7E), (0xA0, 0x17F), (0x2010, 0x2015), (0x2018, 0x201F))
SIGNS = "ΔΩαβγδεθλμνπρσφ†•…‰′″‹›⁄€™−∕√∞∫≈≠≤≥·×←↑→↓✓◊º⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉"
FEATURES = (
    "kern",
    "liga",
    "ccmp",
    "locl",
    "mark",
    "mkmk",
    "tnum",
    "lnum",
    "pnum",
    "sups",
    "subs",
    "sinf",
    "case",
    "zero",
)


class FontsMissing(LabError):
    """A font file that was to be embedded has not been built."""

    code = "fonts-missing"
    sentence = "The font file {name} is not there. Run “manage.py build_assets” once, then try again."


@dataclass(frozen=True)
class Face:
    """One static instance: family and style as CSS names them, and where in its source it lies."""

    name: str
    family: str
    weight: int
    style: str
    package: str
    source: str
    location: tuple[tuple[str, float], ...]


_SANS, _SERIF = "fontpkg_source_sans_3", "fontpkg_source_serif_4"
_UPRIGHT, _ITALIC = "SourceSans3[wght].ttf", "SourceSans3-Italic[wght].ttf"
_TITLES = "SourceSerif4[opsz,wght].ttf"
FACES: tuple[Face, ...] = (
    Face("source-sans-3-400", "Source Sans 3", 400, "normal", _SANS, _UPRIGHT, (("wght", 400),)),
    Face("source-sans-3-400-italic", "Source Sans 3", 400, "italic", _SANS, _ITALIC, (("wght", 400),)),
    Face("source-sans-3-600", "Source Sans 3", 600, "normal", _SANS, _UPRIGHT, (("wght", 600),)),
    # Titles are set at 25 to 32 px, so the optical size is fixed near there.
    Face(
        "source-serif-4-600", "Source Serif 4", 600, "normal", _SERIF, _TITLES, (("opsz", 28), ("wght", 600))
    ),
)


def folder() -> Path:
    """Give the folder that the built files stand in."""
    return Path(settings.ASSETS_DIR) / "labsys" / "fonts"


def wanted() -> set[int]:
    """Give the code points that the subset keeps, as far as a face has them."""
    spans = (range(first, last + 1) for first, last in RANGES)
    return {point for span in spans for point in span} | {ord(sign) for sign in SIGNS}


def stamp() -> str:
    """Give what the built files depend on as one hash: the packages' versions, the subset, the faces, the recipe."""
    packages = sorted({face.package for face in FACES})
    parts = {
        "recipe": RECIPE,
        "versions": {package: metadata.version(package.replace("_", "-")) for package in packages},
        "points": sorted(wanted()),
        "features": FEATURES,
        "faces": [repr(face) for face in FACES],
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def is_built() -> bool:
    """Tell whether every file is there and made as it would be made now."""
    mark = folder() / "stamp"
    return (
        mark.is_file() and mark.read_text(encoding="ascii") == stamp() and all(p.is_file() for p in _files())
    )


def _files() -> Iterable[Path]:
    return (folder() / f"{face.name}.{kind}" for face in FACES for kind in ("woff2", "ttf"))


def build() -> bool:
    """Make all files where they are missing or out of date; tells whether anything was made.

    The stamp is written last, so a build that was cut off is done again.
    """
    if is_built():
        return False
    # The font tools report every table they touch.
    logging.getLogger("fontTools").setLevel(logging.WARNING)
    target = folder()
    target.mkdir(parents=True, exist_ok=True)
    (target / "stamp").unlink(missing_ok=True)
    for face in FACES:
        _build_face(face, target)
    (target / "stamp").write_text(stamp(), encoding="ascii")
    return True


def _build_face(face: Face, target: Path) -> None:
    # Only a build pays for loading the font tools.
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont
    from fontTools.varLib.instancer import instantiateVariableFont

    root = Path(import_module(face.package).__file__ or "").parent / "files"
    font = TTFont(root / face.source, recalcTimestamp=False)
    options = Options(layout_features=list(FEATURES), notdef_outline=True, hinting=False, name_IDs=["*"])
    # First the few glyphs, then the instance: instancing 2,000 glyphs to keep 500 of them takes four times as long.
    cutter = Subsetter(options)
    cutter.populate(unicodes=sorted(wanted()))
    cutter.subset(font)
    instance = instantiateVariableFont(font, dict(face.location), updateFontNames=False)
    for kind, flavor in (("woff2", "woff2"), ("ttf", None)):
        instance.flavor = flavor
        held = BytesIO()
        instance.save(held)
        _write(target / f"{face.name}.{kind}", held.getvalue())


def _write(path: Path, content: bytes) -> None:
    """Put the file there as a whole: a server that reads it meanwhile sees the old one or the new one."""
    fresh = path.with_suffix(path.suffix + ".part")
    fresh.write_bytes(content)
    fresh.replace(path)


@lru_cache(maxsize=2)
def font_faces_css(*, embed: bool = True) -> str:
    """Give the @font-face rules: with the files inside as data (for the renderer) or with the pages' addresses.

    Raises FontsMissing when a file to be embedded has not been built.
    """
    return "\n".join(_rule(face, embed=embed) for face in FACES)


def _rule(face: Face, *, embed: bool) -> str:
    address = _data(face) if embed else f"{settings.STATIC_URL}labsys/fonts/{face.name}.woff2"
    return (
        f'@font-face {{ font-family: "{face.family}"; font-style: {face.style}; font-weight: {face.weight}; '
        f'src: url("{address}") format("{"truetype" if embed else "woff2"}"); }}'
    )


def _data(face: Face) -> str:
    path = folder() / f"{face.name}.ttf"
    if not path.is_file():
        raise FontsMissing(name=path.name)
    return "data:font/ttf;base64," + base64.b64encode(path.read_bytes()).decode("ascii")
