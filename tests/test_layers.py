"""The house rules of DEVELOPERS.md that a program can check."""

import ast
import re
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "formsim"
MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}
ROWS = (
    ("errors", "version", "layout", "arrays", "sources"),
    ("case", "kernels"),
    ("material", "geometry"),
    ("solver",),
    ("stages",),
    ("results",),
    ("tensile",),
    ("report",),
    ("pipeline", "options"),
    ("study",),
    ("cli",),
    ("", "__main__"),
)
ROW = {room: number for number, rooms in enumerate(ROWS) for room in rooms}
LONGEST_MODULE, LONGEST_FUNCTION, LONGEST_COMMENT = 400, 60, 2
HEAVY = {"gmsh", "pyvista", "matplotlib", "h5py", "meshio", "ezdxf", "jinja2", "PIL"}
HEAVY |= {"pyarrow", "distributed", "sklearn"}


def text_of(name: str) -> str:
    return MODULES[name].read_text(encoding="utf-8")


@cache
def tree_of(name: str) -> ast.Module:
    return ast.parse(text_of(name))


def room_of(name: str) -> str:
    return name.split(".")[1] if "." in name else ""


def imported(nodes) -> set[str]:
    """Modules of the package that the import statements among the nodes load."""
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name their module in full"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= (inner & MODULES.keys()) or {node.module or ""}
    return {name for name in found if name.split(".")[0] == "formsim"}


def at_once(tree: ast.Module):
    """Statements that run when the module is imported."""
    waiting = list(tree.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        yield node
        waiting += ast.iter_child_nodes(node)


def test_every_room_has_a_row():
    assert {room_of(name) for name in MODULES} == set(ROW)


def test_the_room_table_of_the_guide_is_this_one():
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for number, rooms in enumerate(ROWS[:-1]):
        row = next(line for line in guide.splitlines() if line.startswith(f"| {number} |"))
        assert set(re.findall(r"`(\w+)`", row.split("|")[2])) == set(rooms)


def test_a_room_imports_only_from_rooms_above_it():
    wrong = [
        f"{name} imports {other}"
        for name in MODULES
        for other in imported(ast.walk(tree_of(name)))
        if room_of(other) != room_of(name) and ROW[room_of(other)] >= ROW[room_of(name)]
    ]
    assert not wrong


def test_no_module_needs_itself():
    needs = {name: imported(at_once(tree_of(name))) - {name} for name in MODULES}
    tuple(TopologicalSorter(needs).static_order())


def test_heavy_libraries_load_when_used():
    wrong = [
        f"{name} loads {module}"
        for name in MODULES
        for node in at_once(tree_of(name))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for module in [getattr(node, "module", None), *(alias.name for alias in node.names)]
        if module and module.split(".")[0] in HEAVY
    ]
    assert not wrong


def test_only_the_command_line_prints():
    prints = {
        name
        for name in MODULES
        for node in ast.walk(tree_of(name))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "print"
    }
    assert prints == {"formsim.cli"}


def test_no_assert_and_no_bare_except():
    wrong = [
        f"{name}, line {node.lineno}"
        for name in MODULES
        for node in ast.walk(tree_of(name))
        if isinstance(node, ast.Assert)
        or (isinstance(node, ast.ExceptHandler) and node.type is None)
    ]
    assert not wrong


def test_lint_and_types_are_not_silenced():
    silencer = re.compile(r"#\s*(noqa|type:\s*ignore|TODO|FIXME|XXX)")
    assert not [name for name in MODULES if silencer.search(text_of(name))]


def test_comments_are_short():
    block = re.compile(rf"^(?:\s*#.*\n){{{LONGEST_COMMENT + 1},}}", re.MULTILINE)
    assert not [name for name in MODULES if block.search(text_of(name))]


def test_modules_are_small():
    lines = {name: len(text_of(name).splitlines()) for name in MODULES}
    assert not {name: count for name, count in lines.items() if count > LONGEST_MODULE}


def test_functions_are_small_unless_they_are_kernels():
    wrong = [
        f"{name}.{node.name} has {length} lines"
        for name in MODULES
        for node in ast.walk(tree_of(name))
        if isinstance(node, ast.FunctionDef)
        and "kernel" not in map(ast.unparse, node.decorator_list)
        and (length := (node.end_lineno or 0) - node.lineno + 1) > LONGEST_FUNCTION
    ]
    assert not wrong


def test_every_module_says_what_it_is_for():
    assert not [name for name in MODULES if not ast.get_docstring(tree_of(name))]


def test_the_guide_leads_to_every_module_and_to_no_other():
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`([\w/]+\.(?:py|toml))", guide))
    assert not [name for name in named if "/" in name and not named_file(name)]
    told = {name.rpartition("/")[2] for name in named}
    assert not [
        name
        for name, path in MODULES.items()
        if path.name not in told and room_of(name) and path.stem not in ("__init__", *ROW)
    ]


def named_file(name: str) -> bool:
    return (PACKAGE / name).exists() or (ROOT / name).exists()
