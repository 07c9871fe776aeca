"""The type of the printed report, and which characters it has."""

from functools import cache
from pathlib import Path

from reportlab.pdfbase.pdfmetrics import registerFont, registerFontFamily
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "Atkinson", "Atkinson-Bold"
_FILES = {
    REGULAR: "atkinson-hyperlegible-next-latin-400.ttf",
    BOLD: "atkinson-hyperlegible-next-latin-700.ttf",
}
# What the font lacks, in characters that it has.
_INSTEAD = str.maketrans(
    {"→": ">", "′": "'", "\u202f": " ", "≤": "<=", "≥": ">=", "▲": "!", "●": "*", "√": "root "}
)


@cache
def load_type(assets: Path) -> None:
    """Make the fonts known to the PDF writer, once."""
    for name, file in _FILES.items():
        registerFont(TTFont(name, str(assets / file)))
    registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)


def printable(text: str) -> str:
    """Write a text in characters that the font has."""
    return text.translate(_INSTEAD)
