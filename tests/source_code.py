"""What the sources of the package say, each file parsed once: its imports, classes, functions and first words."""

import ast
from functools import cache
from pathlib import Path
from typing import NamedTuple

import fieldkit

PACKAGE = Path(fieldkit.__file__).parent


class Module(NamedTuple):
    """What the tests of the house ask of one module; its syntax tree is let go, since it would slow down all others."""

    path: Path
    lines: int
    docstring: str
    imports: frozenset[str]  # modules, and what is taken from them, as absolute names
    classes: tuple[str, ...]
    parameters: dict[str, int]  # function -> how many it takes, its own object left out


@cache
def modules() -> dict[str, Module]:
    """Read every module of the package by its name."""
    return {_name_of(path): _read(path) for path in sorted(PACKAGE.rglob("*.py"))}


def _name_of(path):
    return ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__")


def _read(path):
    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    nodes = list(statements(tree))
    functions = [node for node in nodes if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    return Module(
        path=path,
        lines=len(source.splitlines()),
        docstring=ast.get_docstring(tree) or "",
        imports=frozenset(name for node in nodes for name in _imported(node, path)),
        classes=tuple(node.name for node in tree.body if isinstance(node, ast.ClassDef)),
        parameters={node.name: _parameters(node) for node in sorted(functions, key=_parameters)},
    )


def statements(node):
    """Walk the statements below a node, those inside functions and branches too, and no expressions."""
    for part in ("body", "orelse", "finalbody", "handlers", "cases"):
        for child in getattr(node, part, ()):
            yield child
            yield from statements(child)


def _imported(node, path):
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if not isinstance(node, ast.ImportFrom):
        return []
    package = ".".join(path.parent.relative_to(PACKAGE.parent).parts)
    above = package.split(".")[: -node.level + 1 or None] if node.level else []
    source = ".".join([*above, *([node.module] if node.module else [])])
    return [source, *(f"{source}.{alias.name}" for alias in node.names)]


def _parameters(function):
    arguments = function.args
    named = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
    others = [arguments.vararg, arguments.kwarg]
    return sum(item.arg not in {"self", "cls"} for item in named) + sum(item is not None for item in others)
