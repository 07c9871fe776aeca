"""The themes: every colour on the page, once, for the figures and for the style sheet alike."""

from collections.abc import Mapping
from dataclasses import dataclass, fields


@dataclass(frozen=True)
class Theme:
    """Colours of one theme as #rrggbb; ``dashes`` maps a line's part to its plotly dash.

    ``ramp`` runs from low to high with even steps of lightness; ``ring`` closes on itself and alternates
    lightness (north, south) with blue and orange (west, east), so both read without telling red from green;
    under red light, which shows no blue, with a cold and a warm red.
    """

    label: str
    page: str
    panel: str
    ink: str
    muted: str
    rule: str
    land: str
    coast: str
    sea: str
    accent: str
    boat: str
    ground: str
    logged: str
    starboard: str
    port: str
    ramp: tuple[str, ...]
    ring: tuple[str, ...]
    dashes: Mapping[str, str]


THEMES: dict[str, Theme] = {
    "day": Theme(
        label="Day",
        page="#e9efee",
        panel="#fbfdfc",
        ink="#0e2529",
        muted="#465d62",
        rule="#cbd8d6",
        land="#ddd6bd",
        coast="#8b8464",
        sea="#eef5f6",
        accent="#a2125a",
        boat="#0a5ca8",
        ground="#ad4a06",
        logged="#0e2529",
        starboard="#00734c",
        port="#c02626",
        ramp=("#dca13a", "#cf6b3a", "#a43d5c", "#652a72", "#22184f"),
        ring=("#3a2f47", "#c96f12", "#b3aa9b", "#2468c0", "#3a2f47"),
        dashes={"logged": "5px,3px"},
    ),
    "dusk": Theme(
        label="Dusk",
        page="#0a1417",
        panel="#101e23",
        ink="#dde8e5",
        muted="#97adad",
        rule="#263a40",
        land="#2d322c",
        coast="#6d755f",
        sea="#0c191e",
        accent="#f48fbd",
        boat="#74b9ff",
        ground="#f0a557",
        logged="#f6f7ee",
        starboard="#4fd09a",
        port="#ff7d74",
        ramp=("#6a4a9c", "#b34d80", "#e57460", "#f5b259", "#fbf0b4"),
        ring=("#6f6787", "#ee9a3f", "#f4efe6", "#559cf5", "#6f6787"),
        dashes={"logged": "5px,3px"},
    ),
    "red": Theme(
        label="Red light",
        page="#080000",
        panel="#100101",
        ink="#ff5c46",
        muted="#e8432f",
        rule="#3c0b07",
        land="#280605",
        coast="#8a1d14",
        sea="#0b0000",
        accent="#ff8468",
        boat="#ff664f",
        ground="#d23a2a",
        logged="#ffb39c",
        starboard="#ff664f",
        port="#d23a2a",
        ramp=("#6e130c", "#98200f", "#c42f1e", "#f04a34", "#ff8468"),
        ring=("#ffa184", "#f08a10", "#b8281b", "#ff3060", "#ffa184"),
        dashes={"ground": "5px,3px", "logged": "2px,4px", "port": "5px,3px"},
    ),
}


def style_sheet() -> str:
    """Write the colours of every theme as CSS variables under ``[data-theme=NAME]``, the first as default."""
    blocks = []
    for position, (name, theme) in enumerate(THEMES.items()):
        selector = f':root[data-theme="{name}"]' + ("" if position else ", :root")
        values = {field.name: getattr(theme, field.name) for field in fields(theme)}
        lines = [f"--{key}: {value};" for key, value in values.items() if str(value).startswith("#")]
        lines.append(f"color-scheme: {'light' if name == 'day' else 'dark'};")
        blocks.append(f"{selector} {{ {' '.join(lines)} }}")
    return "\n".join(blocks)
