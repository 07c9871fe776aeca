"""The rules of the house: imports run one way, analysis is pure, what is listed in tables is documented."""

import argparse
import ast
import re
import tomllib
from functools import cache
from pathlib import Path

import pytest

import analysis
from analysis.channels import CHANNELS, unit_of
from analysis.invent import SCENARIOS
from analysis.writing import READINGS_WRITERS, WRITERS
from app.cli import _parser

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
MODULES = sorted(path for folder in ("analysis", "app") for path in (ROOT / folder).rglob("*.py"))
IO_CALLS = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir", "rename"}


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


@cache
def nodes(path: Path) -> list[ast.AST]:
    return list(ast.walk(ast.parse(path.read_text("utf-8"))))


def imported(path: Path) -> set[str]:
    """Every module a file imports, in whatever scope, as dotted names from the root."""
    package = ".".join(path.relative_to(ROOT).parts[:-1]).split(".")
    names: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            names |= {module, *(f"{module}.{alias.name}" for alias in node.names)}
    return names


def called(path: Path) -> set[str]:
    functions = (node.func for node in nodes(path) if isinstance(node, ast.Call))
    return {
        function.id if isinstance(function, ast.Name) else function.attr
        for function in functions
        if isinstance(function, ast.Name | ast.Attribute)
    }


def layers() -> dict[str, int]:
    """The order of DEVELOPERS.md: "Imports run one way: a, b <- c <- d." as module name -> height."""
    stated = re.search(r"Imports run one way:(.*?)\.\n", DEVELOPERS, re.DOTALL)
    assert stated
    groups = [re.findall(r"\w+", group) for group in stated[1].split("<-")]
    return {name: height for height, group in enumerate(groups) for name in group}


def layer_of(dotted: str) -> str | None:
    """The name that stands for a module in the order of imports: analysis.reading.clock -> reading."""
    parts = dotted.split(".")
    if parts[0] == "app":
        return "app"
    return parts[1] if parts[0] == "analysis" and len(parts) > 1 else None


@pytest.mark.parametrize("path", MODULES, ids=named)
def test_imports_run_one_way(path: Path) -> None:
    order = layers()
    dotted = named(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    own = layer_of(dotted)
    if own is None:
        return
    assert own in order, f"give {own} its place in the order of imports in DEVELOPERS.md"
    for name in imported(path):
        other = layer_of(name)
        if other is None or other == own or own == "app":
            continue
        assert other in order, f"{dotted} imports {name}, which is no module in the order of imports"
        assert order[other] < order[own], f"{dotted} imports {name}"


@pytest.mark.parametrize("path", [path for path in MODULES if "analysis" in path.parts], ids=named)
def test_analysis_knows_no_screen(path: Path) -> None:
    roots = {name.split(".")[0] for name in imported(path)}
    assert not roots & {"app", "dash", "plotly", "flask", "rich", "waitress", "webbrowser"}
    assert not called(path) & {"print", "input"}


@pytest.mark.parametrize("path", [path for path in MODULES if "analysis" in path.parts], ids=named)
def test_analysis_touches_files_only_where_it_reads_and_writes(path: Path) -> None:
    if not {"reading", "writing"} & set(path.parts):
        assert not called(path) & IO_CALLS


@pytest.mark.parametrize(
    "path", [path for path in MODULES if {"pages", "figures"} & set(path.parts)], ids=named
)
def test_pages_and_figures_touch_no_file(path: Path) -> None:
    assert not called(path) & IO_CALLS
    if "figures" in path.parts:
        assert not {name.split(".")[0] for name in imported(path)} & {"dash", "flask"}


@pytest.mark.parametrize("path", MODULES, ids=named)
def test_no_module_is_too_long(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= 800


def test_the_public_names_of_analysis_are_these() -> None:
    wanted = {
        "Estimate", "Finding", "LogError", "Passage", "Review", "SettingError", "Settings", "SternlogError",
        "WriteError", "decode_ais", "read_log", "review",
    }  # fmt: skip
    assert set(analysis.__all__) == wanted
    assert all(hasattr(analysis, name) for name in wanted)
    for name in wanted:
        assert getattr(analysis, name).__doc__


def test_every_channel_name_ends_in_its_unit() -> None:
    endings = {
        "deg": "_deg", "kn": "_kn", "nm": "_nm", "m": "_m", "degC": "_c", "hPa": "_hpa", "%": "_percent",
        "deg/min": "_deg_min", "rpm": "_rpm", "h": "_h", "min": "_min", "V": "_v", "1": "",
    }  # fmt: skip
    for name, channel in CHANNELS.items():
        assert name.endswith(endings[channel.unit])
        assert channel.low < channel.high
        assert unit_of(f"{name}_sd") == unit_of(f"{name}_shown") == channel.unit


def subcommands() -> dict[str, argparse.ArgumentParser]:
    action = next(one for one in _parser()._actions if isinstance(one, argparse._SubParsersAction))
    return dict(action.choices)


@pytest.mark.parametrize("name", subcommands())
def test_every_command_and_option_is_in_the_readme(name: str) -> None:
    assert f"sternlog {name}" in README
    options = [option for action in subcommands()[name]._actions for option in action.option_strings]
    for option in options:
        assert option in ("-h", "--help") or f"`{option}" in README or f" {option}" in README, option


def test_every_file_format_is_in_the_readme() -> None:
    for ending in {*WRITERS, *READINGS_WRITERS}:
        assert f"`{ending}`" in README


def test_every_sentence_is_in_the_readme() -> None:
    from analysis.sentences import SENTENCES

    listed = set(re.findall(r"\b[A-Z]{3}\b", README.split("## What it reads")[1]))
    assert listed >= {formatter for formatter in SENTENCES if re.fullmatch("[A-Z]{3}", formatter)}


def test_every_scenario_is_in_the_readme() -> None:
    for name in SCENARIOS:
        assert f"`{name}`" in README


def test_every_part_of_the_house_is_in_the_plan() -> None:
    plan = DEVELOPERS.split("```")[1]
    parts = {path.relative_to(ROOT).parts[1] for path in MODULES if len(path.read_text("utf-8")) > 0}
    for part in parts - {"__init__.py", "__main__.py"}:
        assert part in plan, f"say in the plan of DEVELOPERS.md what {part} is for"


def test_the_conventions_a_file_carries_are_the_documented_ones() -> None:
    from analysis.writing.tables import CONVENTIONS

    plain = " ".join(DEVELOPERS.replace("`", "").split())
    assert "true = factor x shown for speeds, true = shown + offset for angles and pressure" in plain
    assert CONVENTIONS["corrections"] in plain
    assert "0 <= x < 360, unless the name ends _mag_deg" in CONVENTIONS["directions"]
    assert "0 <= x < 360, unless the name ends _mag_deg" in plain


def test_the_test_command_of_the_readme_is_the_one_that_is_run() -> None:
    assert "README.md" in (ROOT / ".ci" / "run").read_text("utf-8")
    assert len(re.findall(r"^python3 -m venv .*pytest.*$", README, re.MULTILINE)) == 1


def test_every_package_is_installed() -> None:
    listed = set(
        tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["packages"]
    )
    found = {
        str(path.parent.relative_to(ROOT)).replace("/", ".") for path in MODULES if path.name == "__init__.py"
    }
    assert found <= listed
