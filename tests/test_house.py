"""The house round the package: what README promises is there, runs as written, and names what is needed."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

HOME = Path(__file__).resolve().parents[1]
README = (HOME / "README.md").read_text(encoding="utf-8")
GUIDE = (HOME / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMANDS = [line for block in re.findall(r"```sh\n(.*?)```", README, re.S) for line in block.splitlines() if line]
IMPORT_NAMES = {
    "pytest-xdist": "xdist",
    "pillow": "PIL",
    "fonttools": "fontTools",
    "colour-science": "colour",
    "eulumdat-ies": "eulumdat_ies",
}  # where they differ
WITH_SCRIPTS = os.environ | {"PATH": os.pathsep.join([str(Path(sys.executable).parent), os.environ.get("PATH", "")])}
TOP = {"README.md", "DEVELOPERS.md", "requirements.txt", "pyproject.toml", "notebooks", "lightcalc", "tests", "data"}


def required(lines):
    return {re.match(r"[A-Za-z0-9_-]+", line).group() for line in lines if re.match(r"[A-Za-z0-9]", line)}


PROJECT = required(tomllib.loads((HOME / "pyproject.toml").read_text())["project"]["dependencies"])
FRONT = required((HOME / "requirements.txt").read_text().splitlines())
TESTING = required((HOME / "tests" / "requirements.txt").read_text().splitlines())


def imported(folder, leave_out=()):
    """Top-level names of everything imported by the Python files under a folder."""
    names = set()
    for path in sorted(folder.rglob("*.py")):
        if path.name in leave_out:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.split(".")[0])
            elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "importorskip":
                names.add(node.args[0].value.split(".")[0])
    return names - set(sys.stdlib_module_names)


def test_one_line_opens_one_line_tests_one_line_prints():
    opens, prints, tests = COMMANDS[:3]
    assert opens.endswith(".venv/bin/jupyter lab notebooks/01_window_beam.ipynb")
    assert "-m lightcalc meter data/salt_ledger.toml && " in prints and prints.endswith("sheet data/salt_ledger.toml -o out/")
    assert tests.endswith(".venv/bin/python -m pytest") and "-r tests/requirements.txt" in tests
    assert all(
        line.startswith("python3 -m venv .venv && .venv/bin/pip install -r requirements.txt") for line in (opens, prints, tests)
    )


@pytest.mark.slow
def test_the_printing_line_gets_past_its_and():
    # DERIVED: `meter` ends with 1 when a target is missed, and the `&&` after it would stop there.
    from lightcalc.answers import readings
    from lightcalc.scene import shoot_file

    read = [readings.readings(setup) for setup in shoot_file.load(HOME / "data" / "salt_ledger.toml").setups]
    assert [r.setup for r in read if not r.met] == [] and sum(len(r.targets) for r in read) > 10


def test_the_machine_runs_readmes_own_test_line():
    # .ci/run takes the line out of README with sed: this is that sed, on this README.
    script = (HOME / ".ci" / "run").read_text()
    pattern = re.search(r"test_command=\$\(sed -n '(.*?)' README.md\)", script).group(1)
    found = subprocess.run(["sed", "-n", pattern, "README.md"], cwd=HOME, capture_output=True, text=True, check=True)
    assert found.stdout.splitlines() == [COMMANDS[2]]
    assert 'bash -euo pipefail -c "$test_command"' in script and "export CI=true" in script
    subprocess.run(["bash", "-n", ".ci/run"], cwd=HOME, check=True)
    assert (HOME / ".ci" / "run").stat().st_mode & 0o111


def test_every_file_readme_and_the_guide_speak_of_is_there():
    pictures = re.findall(r"!\[[^\]]{20,}\]\((\S+)\)", README)
    assert len(pictures) == README.count("![") == 7, "every picture has words for who cannot see it"
    named = re.findall(r"`((?:data|tests|notebooks|lightcalc|\.ci)/[\w./-]*)`", README + GUIDE)
    assert len(named) > 8
    for name in pictures + named:
        assert (HOME / name).exists(), name


def test_tour_pictures_are_small_and_all_used():
    there = {path.name for path in (HOME / "data" / "tour").iterdir()}
    assert there == set(re.findall(r"\(data/tour/(\S+)\)", README))
    for name in there:
        assert 5_000 < (HOME / "data" / "tour" / name).stat().st_size < 250_000, name


def test_the_top_level_holds_what_it_should():
    tracked = subprocess.run(["git", "ls-files"], cwd=HOME, capture_output=True, text=True)
    if tracked.returncode:
        pytest.skip("not a git checkout")
    assert {p for p in (line.split("/")[0] for line in tracked.stdout.splitlines()) if not p.startswith(".")} <= TOP


@pytest.mark.slow
def test_what_is_imported_is_required():
    package = imported(HOME / "lightcalc") - {"lightcalc"}
    assert package <= {IMPORT_NAMES.get(name, name) for name in PROJECT}, "every import of the package is in pyproject.toml"
    own = {path.stem for path in (HOME / "tests").rglob("*.py")}
    known = {IMPORT_NAMES.get(name, name) for name in PROJECT | FRONT | TESTING}
    tests = imported(HOME / "tests", leave_out=("make_reference.py",)) - {"lightcalc"} - own
    assert tests <= known, "every import of the tests is in a requirements file"


def test_what_is_required_has_its_reason_in_the_guide():
    table = set(re.findall(r"^\| `([\w-]+)` \|", GUIDE, re.M))
    needs = PROJECT | FRONT | TESTING
    assert table == needs, f"without a reason: {needs - table}; not required: {table - needs}"


def test_imports_run_one_way():
    # The floors and the rule are declared in pyproject.toml; import-linter, which shares no code with us, holds them.
    said = subprocess.run(["lint-imports", "--no-logo", "--no-cache"], cwd=HOME, capture_output=True, text=True, env=WITH_SCRIPTS)
    assert said.returncode == 0 and "Contracts: 2 kept, 0 broken." in said.stdout, said.stdout + said.stderr
    there = {path.stem for path in (HOME / "lightcalc").iterdir() if path.suffix == ".py" or (path / "__init__.py").is_file()}
    contract = tomllib.loads((HOME / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"][0]
    assert set(contract["layers"]) == there - {"__init__"}


@pytest.mark.slow
def test_the_code_is_in_the_agreed_form():
    for rule in (["ruff", "check", "lightcalc", "tests"], ["ruff", "format", "--check", "lightcalc", "tests"], ["mypy"]):
        said = subprocess.run(rule, cwd=HOME, capture_output=True, text=True, env=WITH_SCRIPTS)
        assert said.returncode == 0, said.stdout[-2000:] + said.stderr


def test_the_guide_has_the_map():
    # Every room and file of the package stands in the guide, once, in the line of its room.
    block = re.search(r"```text\n(__main__.*?)```", GUIDE, re.S).group(1)
    written, room = {}, ""
    for line in block.splitlines():
        head, names = re.fullmatch(r"(\S*) +(.*)", line).groups()
        room = head.rstrip("/") or room
        written.setdefault(room, []).extend(names.split())
    for folder in sorted(path for path in (HOME / "lightcalc").iterdir() if (path / "__init__.py").is_file()):
        assert sorted(written[folder.name]) == sorted(path.stem for path in folder.glob("*.py") if path.stem != "__init__"), (
            folder.name
        )
