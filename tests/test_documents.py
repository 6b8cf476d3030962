"""README and DEVELOPERS say what is really there."""

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_command_is_in_the_readme() -> None:
    commands = {path.stem for path in (ROOT / "optimiser" / "commands").glob("*.py")} - {"__init__"}
    documented = set(re.findall(r"^\| `(\w+)", README, re.MULTILINE)) | {"worker"}
    assert commands <= documented, f"README's table lacks {sorted(commands - documented)}"
    assert documented <= commands, f"README tells of {sorted(documented - commands)}, which is no command"


def test_every_picture_and_file_that_is_named_exists() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", README + DEVELOPERS):
        if not target.startswith("http"):
            assert (ROOT / target).exists(), f"{target} is named and not there"


def test_no_figure_was_left_to_be_filled_in() -> None:
    assert not re.findall(r"\b[A-Z]+_(?:TABLE|TEXT)\b", README)


def test_every_part_of_the_map_exists() -> None:
    table = DEVELOPERS.split("## The map")[1].split("## The cutting solver")[0]
    named = re.findall(r"`([\w/]+(?:\.py|/))`", table)
    folder = ""
    for name in named:
        if "/" in name.rstrip("/"):
            folder = name.rsplit("/", 1)[0] if name.endswith(".py") else name.rstrip("/")
        here = [ROOT / name, ROOT / "optimiser" / name, ROOT / folder / name]
        assert any(path.exists() for path in here), f"the map names {name}, which is not there"


def test_every_module_of_the_core_is_on_the_map() -> None:
    for path in (ROOT / "optimiser").glob("*.py"):
        if path.name not in {"__init__.py"}:
            assert f"{path.name}`" in DEVELOPERS, f"the map lacks {path.name}"
