"""README and DEVELOPERS say what is really there."""

import dataclasses
import re
from pathlib import Path

from api.settings import PREFIX, Settings
from optimiser.commands.main import COMMANDS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_command_is_in_the_readme() -> None:
    commands = set(COMMANDS)
    table = README.split("| command | does |")[1].split("\n\n")[0]
    documented = set(re.findall(r"^\| `(\w+)", table, re.MULTILINE)) | {"worker"}
    assert commands <= documented, f"README's table lacks {sorted(commands - documented)}"
    assert documented <= commands, f"README tells of {sorted(documented - commands)}, which is no command"


def test_every_module_of_the_commands_is_one_or_serves_them() -> None:
    modules = {path.stem for path in (ROOT / "optimiser" / "commands").glob("*.py")}
    assert modules == {*COMMANDS, "__init__", "inside", "main", "manual", "options", "service_entry"}


def test_every_setting_is_in_the_readme_with_its_default() -> None:
    rows = dict(re.findall(r"^\| `(DATABASE_URL|BARRIER_ORDERS_\w+)` \|\s*(.*?)\s*\|", README, re.MULTILINE))
    fields_ = dataclasses.fields(Settings)
    defaults = {
        f"{PREFIX}{one.name.upper()}": str(one.default) for one in fields_ if one.name != "database_url"
    }
    assert rows.pop("DATABASE_URL") == ""
    assert rows == {name: "false" if text == "False" else text for name, text in defaults.items()}


def test_every_picture_and_file_that_is_named_exists() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", README + DEVELOPERS):
        if not target.startswith("http"):
            assert (ROOT / target).exists(), f"{target} is named and not there"


def test_no_figure_was_left_to_be_filled_in() -> None:
    assert not re.findall(r"\b[A-Z]+_(?:TABLE|TEXT)\b", README)


def test_every_folder_is_on_the_map_and_every_part_of_it_exists() -> None:
    table = DEVELOPERS.split("## The map")[1].split("## Words")[0]
    folders = {path.parent.name for path in (ROOT / "optimiser").glob("*/__init__.py")}
    named = {row.split("`")[1].rstrip("/") for row in table.splitlines() if row.startswith("| `")}
    assert folders <= named, f"the map lacks {sorted(folders - named)}"
    for row in (row for row in table.splitlines() if row.startswith("| `")):
        (room, *parts) = re.findall(r"`([\w/]+(?:\.py|/))`", row)
        places = [ROOT / room, ROOT / "optimiser" / room]
        assert any(place.exists() for place in places), f"the map names {room}, which is not there"
        for part in parts:
            assert any((place / part).exists() for place in [ROOT, *places]), f"{room} has no {part}"


def test_no_module_stands_outside_the_folders() -> None:
    loose = {path.name for path in (ROOT / "optimiser").glob("*.py")} - {"__init__.py"}
    assert not loose, f"{sorted(loose)} stand at the root: give each its folder"
