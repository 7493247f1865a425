"""The light colours as plain values, for pictures that leave the page (certificate, file) and see no style sheet.

The pages take theirs from tokens.css; a test keeps the two equal.
"""

from __future__ import annotations

PRINT: dict[str, str] = {
    "paper": "#F6F1E6",
    "sheet": "#FFFDF8",
    "well": "#ECE5D5",
    "ink": "#1D2229",
    "quiet": "#565B63",
    "rule": "#CFC6B2",
    "edge": "#837A68",
    "accent": "#0A6166",
    "band": "#E3EDE6",
    "hatch": "#6E6757",
    "use_mark": "#1E5B3C",
    "limit_mark": "#7A4A00",
    "stop_mark": "#8E1B2A",
}
