"""Every colour is a token, and the tokens contrast as people need.

Source of formula and thresholds: W3C, Web Content Accessibility Guidelines 2.2, definition of relative luminance and
contrast ratio; success criteria 1.4.3 (text, 4.5) and 1.4.11 (parts of controls and graphics, 3).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labsys.pages.palette import PRINT

STYLE = Path(__file__).parents[3] / "labsys" / "static" / "labsys" / "style"
Tokens = dict[str, str]

TEXT = [
    ("ink", "paper"), ("ink", "sheet"), ("ink", "well"), ("ink", "wash"), ("ink", "band"),
    ("quiet", "paper"), ("quiet", "sheet"), ("quiet", "well"),
    ("accent", "paper"), ("accent", "sheet"), ("accent", "wash"), ("on-accent", "accent"),
    ("use-ink", "use-field"), ("limit-ink", "limit-field"), ("stop-ink", "stop-field"),
    ("use-mark", "sheet"), ("limit-mark", "sheet"), ("stop-mark", "sheet"),
    ("use-mark", "paper"), ("limit-mark", "paper"), ("stop-mark", "paper"),
]  # fmt: skip
PARTS = [
    ("edge", "paper"), ("edge", "sheet"), ("edge", "well"), ("hatch", "band"), ("hatch", "sheet"),
    ("use-mark", "band"), ("limit-mark", "band"), ("stop-mark", "band"), ("accent", "band"), ("ink", "band"),
]  # fmt: skip


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    lighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def themes() -> dict[str, Tokens]:
    text = (STYLE / "tokens.css").read_text()
    light, dark = text.split("prefers-color-scheme: dark")
    found = {name: dict(re.findall(r"--([a-z-]+): (#[0-9A-F]{6});", part)) for name, part in
             (("light", light), ("dark", dark))}  # fmt: skip
    return found


THEMES = themes()


def test_the_formula_gives_the_published_extremes() -> None:
    """WCAG 2.2: white on black is 21 to 1; #777777 on white is the known 4.48 just below the text threshold."""
    assert contrast("#FFFFFF", "#000000") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


def test_both_themes_define_the_same_tokens() -> None:
    assert THEMES["light"].keys() == THEMES["dark"].keys()
    assert len(THEMES["light"]) >= 20


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("first", "second"), TEXT)
def test_text(theme: str, first: str, second: str) -> None:
    tokens = THEMES[theme]
    assert contrast(tokens[first], tokens[second]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("first", "second"), PARTS)
def test_parts(theme: str, first: str, second: str) -> None:
    tokens = THEMES[theme]
    assert contrast(tokens[first], tokens[second]) >= 3


def test_no_other_file_names_a_colour() -> None:
    """Printing alone may say white."""
    for path in STYLE.glob("*.css"):
        if path.name == "tokens.css":
            continue
        found = set(re.findall(r"#[0-9A-Fa-f]{3,8}\b|\brgba?\(|\bhsla?\(", path.read_text()))
        assert found <= ({"#FFFFFF"} if path.name == "print.css" else set()), path.name


def test_every_token_that_is_used_exists() -> None:
    defined = set(re.findall(r"(--[a-z0-9-]+):", (STYLE / "tokens.css").read_text()))
    for path in STYLE.glob("*.css"):
        assert set(re.findall(r"var\((--[a-z0-9-]+)", path.read_text())) <= defined, path.name


def test_the_palette_for_print_is_the_light_theme() -> None:
    for name, colour in PRINT.items():
        assert THEMES["light"][name.replace("_", "-")] == colour


def test_no_style_sheet_is_longer_than_400_lines() -> None:
    for path in STYLE.glob("*.css"):
        assert len(path.read_text().splitlines()) <= 400, path.name
