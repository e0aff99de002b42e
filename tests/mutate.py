"""
Does a test notice when a number or a sign is wrong? Run by hand: `python tests/mutate.py [HOW_MANY] [SEED] [FILE ...]`.

In a copy of the tree one constant or sign at a time is changed (a number by a tenth, a whole number by one, plus and minus,
times and divided by exchanged), the tests that mirror its file are run, then, if they pass, the fast ones of all files, and for the engine the
slow ones. What passes those too is a survivor, and is printed with its line: either nothing guards it, or it changes nothing.
"""

import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HOME = Path(__file__).resolve().parents[1]
ROOMS = {"laws": 25, "sky": 12, "kit": 12, "scene": 8, "engine": 28, "answers": 15}  # of a hundred
SWAPPED = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
FAST = ["tests", "-m", "not slow", "--deselect", "tests/test_house.py"]
SLOW = ["tests/test_reference.py", "tests/engine", "-m", "slow"]  # where it is the engine's


def changes(path):
    """What can be changed in a file: (line, column, old text, new text), a place each."""
    text = path.read_text(encoding="utf-8")
    lines, tree = text.splitlines(), ast.parse(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.lineno == node.end_lineno:
            old = lines[node.lineno - 1].encode()[node.col_offset : node.end_col_offset].decode()
            new = str(node.value + 1) if isinstance(node.value, int) else repr(node.value * 1.1 if node.value else 0.1)
            yield node.lineno, node.col_offset, old, new
        elif isinstance(node, ast.BinOp) and type(node.op) in SWAPPED and node.left.end_lineno == node.right.lineno:
            line = lines[node.right.lineno - 1].encode()
            between = line[node.left.end_col_offset : node.right.col_offset].decode()
            sign = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}[type(node.op)]
            if between.count(sign) == 1 and not between.strip(" ()" + sign):
                where = node.left.end_col_offset + len(between[: between.index(sign)].encode())
                yield node.right.lineno, where, sign, SWAPPED[type(node.op)]


def changed(text, change):
    """The file with one change made."""
    line, column, old, new = change
    lines = text.splitlines(keepends=True)
    raw = lines[line - 1].encode()
    assert raw[column : column + len(old.encode())] == old.encode()
    lines[line - 1] = (raw[:column] + new.encode() + raw[column + len(old.encode()) :]).decode()
    return "".join(lines)


def mirrors(tree, path):
    """The tests of a file: its mirror, those named after it, and its examples."""
    room, name = path.relative_to(tree / "lightcalc").parts
    found = sorted((tree / "tests" / room).glob(f"test_{path.stem}*.py"))
    return [str(one.relative_to(tree)) for one in found] + [f"lightcalc/{room}/{name}"]


def passes(tree, arguments, cores, seconds=900):
    """Whether tests pass in the copy, in a time several times what they take beside other work."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", cores, "-p", "no:cacheprovider", *arguments]
    own = {"PYTHONPATH": str(tree), "XDG_CACHE_HOME": str(tree / "cache"), "NUMBA_CACHE_DIR": str(tree / "cache")}
    try:
        return subprocess.run(command, cwd=tree, env=os.environ | own, capture_output=True, timeout=seconds).returncode == 0
    except subprocess.TimeoutExpired:
        return False  # it hangs, which is noticed


def chosen(tree, count, seed, names):
    """So many changes, drawn room by room."""
    draw, found = random.Random(seed), []
    for room, share in ROOMS.items():
        files = [path for path in sorted((tree / "lightcalc" / room).glob("*.py")) if not names or path.name in names]
        there = [(path, change) for path in files for change in changes(path)]
        found += draw.sample(there, min(len(there), count if names else round(count * share / 100)))
    return found[:count]


def main(count=100, seed=1, *names):
    """Change, test, put back; a line each, then the survivors again."""
    survivors = []
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        shutil.copytree(HOME, tree, ignore=shutil.ignore_patterns(".git", "__pycache__", ".venv", "*.nbi", "*.nbc", ".*_cache"))
        for path, change in chosen(tree, int(count), int(seed), names):
            text = path.read_text(encoding="utf-8")
            path.write_text(changed(text, change), encoding="utf-8")
            noticed = "its own tests" if not passes(tree, mirrors(tree, path), "0") else ""
            noticed = noticed or ("the fast tests" if not passes(tree, FAST, "auto") else "")
            slow = not noticed and path.parent.name == "engine" and not passes(tree, SLOW, "auto", 5400)
            noticed = noticed or ("the slow tests" if slow else "NOBODY")
            path.write_text(text, encoding="utf-8")
            line, _, old, new = change
            said = f"{path.relative_to(tree)}:{line}  {old} -> {new}  noticed by {noticed}"
            print(said, flush=True)
            survivors += [said + "\n    " + text.splitlines()[line - 1].strip()] * (noticed == "NOBODY")
    print(f"{len(survivors)} survivors", *survivors, sep="\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
