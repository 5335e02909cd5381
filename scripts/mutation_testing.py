"""Make small faults in a copy of the program, one at a time, and see whether its tests fail.

    .venv/bin/python scripts/mutation_testing.py [--seed 1] [--count 100] [--package ledger ...]

Faults are taken by chance, from the seed, on lines that tests of the package run: a comparison turned or
off by one, `and` for `or`, a condition left out, a constant changed, a result emptied, a statement dropped.
Each is tried against the tests of the package, those that run its line and the quickest first; this process
has imported the libraries, and a child of it runs the tests. Annotations, words for people and assertions
are left alone.

Prints a line for each fault: where, what, and which test fails; "alive" where none does. Exit 1 where fewer
than `--least` percent were caught. A fault that only golden files show (`GOLDEN`) is alive: regenerated
files would hide it. A run far longer than without a fault counts as caught, and is named.
What cannot be told from the right program stands, with the reason, in `mutation_testing_equivalent.toml`.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
EQUIVALENT = Path(__file__).with_name("mutation_testing_equivalent.toml")
# Where faults are made, under src/witnessmark, and the tests that belong there.
PACKAGES = {
    "ledger": ("tests/ledger",),
    "planner/check": (
        "tests/planner/test_check.py",
        "tests/planner/test_check_breaks.py",
        "tests/planner/test_check_changes.py",
    ),
    "due": ("tests/due",),
    "money": ("tests/money",),
    "invoice": ("tests/invoice",),
    "fasteners": (
        "tests/fasteners",
        "tests/outside/test_drive_sizes_table.py",
        "tests/outside/test_fasteners_table.py",
        "tests/outside/test_inch_pipe_and_inserts.py",
        "tests/outside/test_threads_by_library.py",
    ),
    "shop/projections.py": ("tests/shop/test_projections.py", "tests/shop/test_store.py"),
}
GOLDEN = "test_the_files_are_what_their_maker_makes"
LIMIT = 60.0, 4.0  # for one fault: seconds, and as many times what its tests take
CALLS = 200  # of a function in one test without a new line, after which its lines are not looked at
LIBRARIES = (
    "django.test", "hypothesis", "numpy", "ortools.sat.python.cp_model", "pint", "playwright.sync_api",
    "pydantic", "pytest_django", "rfc8785", "tomlkit",
)  # fmt: skip
Lines = dict[str, set[int]]  # by file


# ---------------------------------------------------------------- faults


@dataclass(frozen=True)
class Fault:
    """One change of a file: the bytes from `start` to `stop`, and what stands there instead."""

    file: str
    inside: str  # the function, with its class
    lines: tuple[int, int]  # of the whole statement
    line: int
    start: int
    stop: int
    right: str
    wrong: str

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What names it whatever moves around it."""
        return self.file, self.inside, self.right, self.wrong

    def __str__(self) -> str:
        right, wrong = (" ".join(x.split()) for x in (self.right, self.wrong))
        return f"{self.file}:{self.line} {right} → {wrong}"


TURNED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
SWAPPED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
}
OTHER_NAME = {"any": "all", "all": "any", "min": "max", "max": "min"}
EMPTY = {
    "list": "[]", "dict": "{}", "tuple": "()", "set": "set()", "str": "''", "int": "0", "float": "0.0",
    "bool": "False", "Iterator": "iter(())",
}  # fmt: skip
WORDS = (ast.JoinedStr, ast.Raise, ast.Assert, ast.Import, ast.ImportFrom)


def faults_of(source: str, file: str) -> list[Fault]:
    """Every fault this can make in a file."""
    return list(_Maker(source, file).faults())


class _Maker:
    """Walks one file; knows where it is."""

    def __init__(self, source: str, file: str) -> None:
        self.file, self.source = file, source.encode()
        self.tree = ast.parse(source)
        self.begins = [0]
        for line in source.encode().splitlines(keepends=True):
            self.begins.append(self.begins[-1] + len(line))

    def faults(self) -> Iterator[Fault]:
        yield from self._in(self.tree, "", None, None)

    def _in(
        self, node: ast.AST, inside: str, statement: ast.stmt | None, returns: ast.expr | None
    ) -> Iterator[Fault]:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            inside = f"{inside}.{node.name}".lstrip(".")
            returns = node.returns if isinstance(node, ast.FunctionDef) else None
            every: list[ast.AST] = [*node.body]
            if isinstance(node, ast.FunctionDef):
                every += [x for x in (*node.args.defaults, *node.args.kw_defaults) if x]
        elif isinstance(node, ast.AnnAssign):
            every = [node.value] if node.value else []
        elif isinstance(node, WORDS) or (isinstance(node, ast.keyword) and node.arg == "strict"):
            return
        else:
            every = list(ast.iter_child_nodes(node))
        if isinstance(node, ast.stmt):
            statement = node
        if statement is not None:
            for at, wrong in _wrongs(node, returns):
                yield self._fault(at, wrong, inside, statement)
        for child in every:
            yield from self._in(child, inside, statement, returns)

    def _fault(
        self, at: ast.expr | ast.stmt, wrong: str, inside: str, statement: ast.stmt
    ) -> Fault:
        assert at.end_lineno is not None
        assert at.end_col_offset is not None
        start = self.begins[at.lineno - 1] + at.col_offset
        stop = self.begins[at.end_lineno - 1] + at.end_col_offset
        # of a statement with a body its head alone: a line of the body runs less often
        body = getattr(statement, "body", None)
        last = body[0].lineno - 1 if body else statement.end_lineno
        lines = (statement.lineno, max(statement.lineno, last or 0))
        right = self.source[start:stop].decode()
        return Fault(self.file, inside, lines, at.lineno, start, stop, right, wrong)


Place = tuple[ast.expr | ast.stmt, str]


def _wrongs(node: ast.AST, returns: ast.expr | None) -> Iterator[Place]:
    """What may stand wrongly in the place of a node, or of a part of it."""
    yield from _of_a_condition(node)
    yield from _of_a_value(node)
    yield from _of_a_statement(node, returns)


def _of_a_condition(node: ast.AST) -> Iterator[Place]:
    match node:
        case ast.Compare(left=left, ops=[op], comparators=[to]):
            for other in TURNED[type(op)]:
                yield node, _text(ast.Compare(left, [other()], [to]))
            if isinstance(to, ast.Tuple | ast.Set | ast.List) and len(to.elts) > 1:
                for i in range(len(to.elts)):
                    yield to, _text(ast.Tuple([*to.elts[:i], *to.elts[i + 1 :]], ast.Load()))
        case ast.BoolOp(op=op, values=values):
            yield (
                node,
                _text(ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)),
            )
            for i in range(len(values)):
                rest = [*values[:i], *values[i + 1 :]]
                yield node, _text(rest[0] if len(rest) == 1 else ast.BoolOp(op, rest))
        case ast.If(test=test) | ast.IfExp(test=test) | ast.comprehension(ifs=[test, *_]):
            yield test, "(True)"
            yield test, "(False)"


def _of_a_value(node: ast.AST) -> Iterator[Place]:
    match node:
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield node, _text(operand)
        case ast.Constant(value=bool() | int() | float() as value) if not 0 < value < TOLERANCE:
            yield node, f"({_changed(value)!r})"
        case ast.BinOp(left=left, op=op, right=right) if type(op) in SWAPPED:
            if not any(isinstance(x, WORDS_OR_LISTS) for x in (left, right)):
                yield node, _text(ast.BinOp(left, SWAPPED[type(op)](), right))
        case ast.Call(func=ast.Name(id="sorted")) if not node.keywords:
            yield node, _text(ast.Call(node.func, node.args, [REVERSE]))
        case ast.Call(func=ast.Name(id=name)) if name in OTHER_NAME:
            yield node.func, OTHER_NAME[name]


def _of_a_statement(node: ast.AST, returns: ast.expr | None) -> Iterator[Place]:
    match node:
        case ast.Return(value=ast.expr() as value) if returns is not None:
            empty = _empty(returns)
            if empty and ast.unparse(value) != empty:
                yield value, empty
        case ast.Expr(value=ast.Yield() | ast.YieldFrom()):
            yield node.value, "(yield from ())"
        case ast.Expr(value=ast.Call()) | ast.AugAssign():
            yield node, "pass"


TOLERANCE = 1e-6  # what is smaller allows for rounding
WORDS_OR_LISTS = (ast.JoinedStr, ast.List, ast.Tuple)
REVERSE = ast.keyword("reverse", ast.Constant(True))


def _text(node: ast.expr) -> str:
    return f"({ast.unparse(ast.fix_missing_locations(node))})"


def _changed(value: float) -> float:
    if isinstance(value, bool):
        return not value
    return value + 1 if isinstance(value, int) else value * 1.1 or 1.0


def _empty(returns: ast.expr) -> str | None:
    """Nothing, of the kind that a function says it returns."""
    if isinstance(returns, ast.BinOp) and ast.unparse(returns).endswith("None"):
        return "None"
    name = returns.value if isinstance(returns, ast.Subscript) else returns
    return EMPTY.get(ast.unparse(name))


# ---------------------------------------------------------------- running tests in a child


@dataclass
class Test:
    """What one test runs."""

    seconds: float
    lines: Lines


class Tracer:
    """A plugin: the lines of some files that each test runs, its fixtures included; "": before and between them."""

    def __init__(self, below: str) -> None:
        self.below = below
        self.loaded: Lines = {}
        self.tests = {"": Test(0.0, self.loaded)}
        self.left: dict[CodeType, int] = defaultdict(lambda: CALLS)
        self.lines = self.loaded

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.left, self.lines = defaultdict(lambda: CALLS), {}
        since = time.perf_counter()
        try:
            return (yield)
        finally:
            self.tests[item.nodeid] = Test(time.perf_counter() - since, self.lines)
            self.left, self.lines = defaultdict(lambda: CALLS), self.loaded

    def called(self, frame: FrameType, _event: str, _arg: Any) -> Any:
        code = frame.f_code
        if not code.co_filename.startswith(self.below) or not self.left[code]:
            return None
        self.left[code] -= 1
        return self._line

    def _line(self, frame: FrameType, event: str, _arg: Any) -> Any:
        if event == "line":
            code, line = frame.f_code, frame.f_lineno
            seen = self.lines.setdefault(code.co_filename, set())
            if line not in seen:
                seen.add(line)
                self.left[code] = CALLS
        return self._line


class Chosen:
    """A plugin: these tests in this order, and the first that fails."""

    def __init__(self, order: Sequence[str]) -> None:
        self.place = {name: i for i, name in enumerate(order)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (item for item in items if item.nodeid in self.place),
            key=lambda item: self.place[item.nodeid],
        )

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid


def in_child(copy: Path, work: Any, limit: float | None) -> Any:
    """What `work` returns in a child of this process, as JSON; None where it took too long."""
    answer = copy / "answer.json"
    answer.unlink(missing_ok=True)
    child = os.fork()
    if child == 0:
        _become_a_test_run(copy)
        try:
            answer.write_text(json.dumps(work()))
        finally:
            os._exit(0)
    until = time.monotonic() + limit if limit else None
    while os.waitpid(child, os.WNOHANG) == (0, 0):
        if until and time.monotonic() > until:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None
        time.sleep(0.02)
    return json.loads(answer.read_text()) if answer.exists() else "the run itself broke down"


def _become_a_test_run(copy: Path) -> None:
    os.setsid()
    os.chdir(copy)
    with (copy / "output.txt").open("w") as output:
        for stream in (1, 2):
            os.dup2(output.fileno(), stream)
    sys.path[:0] = [str(copy / "src"), str(copy)]
    os.environ["WITNESSMARK_HOME"] = str(copy / "home")
    os.environ.pop("DATABASE_URL", None)


def _pytest(paths: Sequence[str], plugin: object) -> int:
    options = ["-q", "-p", "no:cacheprovider", "-p", "no:randomly", "-m", "not long", "--tb=line"]
    return int(pytest.main([*options, *paths], plugins=[plugin]))


def traced(copy: Path, package: str) -> dict[str, Test]:
    """The tests of a package with the lines of it that each runs. Exits where one fails as things are."""
    below = str(copy / "src" / "witnessmark" / package)

    def work() -> dict[str, Any]:
        tracer = Tracer(below)
        sys.settrace(tracer.called)
        code = _pytest(PACKAGES[package], tracer)
        sys.settrace(None)
        if code != 0:
            return {}
        return {
            name: [test.seconds, {f: sorted(lines) for f, lines in test.lines.items()}]
            for name, test in tracer.tests.items()
        }

    made = in_child(copy, work, None)
    if not isinstance(made, dict) or not made:
        sys.exit(f"{package}: its tests fail without a fault\n{(copy / 'output.txt').read_text()}")
    return {
        name: Test(
            seconds, {Path(f).relative_to(copy).as_posix(): set(n) for f, n in lines.items()}
        )
        for name, (seconds, lines) in made.items()
    }


def tried(copy: Path, fault: Fault, tests: dict[str, Test]) -> str:
    """Which test fails with the fault made in the copy; "" for none."""
    seconds, times = LIMIT
    limit = seconds + times * sum(test.seconds for test in tests.values())
    file = copy / fault.file
    right = file.read_bytes()
    for kept in (file.parent / "__pycache__").glob(f"{file.stem}.*"):
        kept.unlink()
    file.write_bytes(right[: fault.start] + fault.wrong.encode() + right[fault.stop :])
    try:
        for golden in (False, True):
            some = [name for name in tests if (GOLDEN in name) == golden]
            found = _run(copy, some, limit)
            if found:
                return f"golden files alone: {found}" if golden else found
        return ""
    finally:
        file.write_bytes(right)


def _run(copy: Path, names: list[str], limit: float) -> str:
    if not names:
        return ""
    files = list(dict.fromkeys(name.partition("::")[0] for name in names))

    def work() -> str:
        sys.dont_write_bytecode = True  # of the wrong program
        chosen = Chosen(names)
        code = _pytest(["-x", *files], chosen)
        return chosen.failed or ("" if code == 0 else "it does not load")

    found = in_child(copy, work, limit)
    return "it never ends" if found is None else str(found)


# ---------------------------------------------------------------- which faults, and the table


def by_chance(faults: Sequence[Fault], count: int, seed: str) -> list[Fault]:
    """So many, each of another statement: else a table of figures would outweigh all else."""
    chance = random.Random(seed)  # noqa: S311 - the same ones again from the same seed
    statements: dict[tuple[str, tuple[int, int]], list[Fault]] = defaultdict(list)
    for fault in faults:
        statements[fault.file, fault.lines].append(fault)
    every = list(statements.values())
    chance.shuffle(every)
    return [chance.choice(some) for some in every[:count]]


def runs(test: Test, fault: Fault) -> bool:
    """Whether a test runs the statement of a fault."""
    first, last = fault.lines
    return any(first <= line <= last for line in test.lines.get(fault.file, ()))


def ordered(fault: Fault, tests: dict[str, Test]) -> dict[str, Test]:
    """Those that run its line first, and the quickest first.

    The others rest on it, too, where it ran while tests were loaded, or once for several of them.
    """
    named = ((name, test) for name, test in tests.items() if name)
    return dict(sorted(named, key=lambda one: (not runs(one[1], fault), one[1].seconds)))


def possible(package: str) -> list[Fault]:
    """Every fault that can be made in a package, without those known to change nothing."""
    place = ROOT / "src" / "witnessmark" / package
    files = [place] if place.is_file() else sorted(place.rglob("*.py"))
    known = {tuple(one[x] for x in ("file", "inside", "right", "wrong")) for one in equivalent()}
    every = (
        fault
        for file in files
        for fault in faults_of(file.read_text(), file.relative_to(ROOT).as_posix())
    )
    return [fault for fault in every if fault.key not in known]


def equivalent() -> list[dict[str, str]]:
    """The faults that change nothing anybody can see, each with its reason."""
    return list(tomllib.loads(EQUIVALENT.read_text())["fault"]) if EQUIVALENT.exists() else []


def shares(count: int, sizes: dict[str, int]) -> dict[str, int]:
    """How many faults in each package: by its size, at least three in each."""
    whole = sum(sizes.values())
    return {name: min(size, max(3, round(count * size / whole))) for name, size in sizes.items()}


@contextlib.contextmanager
def copies(count: int) -> Iterator[list[Path]]:
    """Copies of the tree, gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        made = []
        for i in range(count):
            copy = Path(folder).resolve() / str(i)
            for part in ("src", "tests", "scripts", "docs"):
                no_cache = shutil.ignore_patterns("__pycache__")
                shutil.copytree(ROOT / part, copy / part, ignore=no_cache)
            for file in ("pyproject.toml", "Makefile"):
                shutil.copy(ROOT / file, copy / file)
            made.append(copy)
        yield made


def examined(copy: Path, package: str, faults: list[Fault], tests: dict[str, Test]) -> list[str]:
    """What became of each fault, printed as it is known."""
    found = []
    for fault in faults:
        found.append(by := tried(copy, fault, ordered(fault, tests)))
        alive = not by or by.startswith("golden")
        print(f"{'ALIVE ' if alive else 'caught'} {fault}\n         {by or package}", flush=True)
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--package", nargs="+", choices=PACKAGES, default=list(PACKAGES))
    parser.add_argument("--least", type=float, default=95.0, help="percent to be caught")
    asked = parser.parse_args()
    for library in LIBRARIES:
        importlib.import_module(library)
    pool = {package: possible(package) for package in asked.package}
    count = shares(asked.count, {package: len(faults) for package, faults in pool.items()})
    whole: list[str] = []
    with copies(1) as [copy]:
        for package, faults in pool.items():
            tests = traced(copy, package)
            run = [f for f in faults if any(runs(test, f) for test in tests.values())]
            some = by_chance(run, count[package], f"{asked.seed} {package}")
            print(
                f"\n{package}: {len(tests) - 1} tests run the lines of {len(run)} of {len(faults)} possible faults"
            )
            found = examined(copy, package, some, tests)
            print(f"{package}: {_told(found)}", flush=True)
            whole += found
    print(f"\nseed {asked.seed}: {_told(whole)}")
    return int(100 * _caught(whole) < asked.least * len(whole))


def _caught(found: list[str]) -> int:
    return sum(bool(by) and not by.startswith("golden") for by in found)


def _told(found: list[str]) -> str:
    golden = sum(by.startswith("golden") for by in found)
    endless = sum(by == "it never ends" for by in found)
    return (
        f"{_caught(found)} of {len(found)} caught"
        f" ({endless} by never ending), {found.count('')} alive, {golden} seen by golden files alone"
    )


if __name__ == "__main__":
    sys.exit(main())
