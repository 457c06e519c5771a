"""Names that the program defines and never uses: prints, asserts nothing.

.venv/bin/python tests/bench/unused.py

A name counts as used where its word stands in the code of another place, strings and templates included; what Textual
calls by its name, formulas and rules are left out. What only a test uses is said to be so.
"""

import ast
import io
import re
import tokenize
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
CALLED_BY_NAME = ("__", "action_", "on_", "_on_")
TEXTUAL = {"compose", "render", "render_line", "send_message", "_run_input_thread", "get_driver_class"}
DECLARED = ("formula", "output_rule", "line_rule", "box_rule", "show_rule")


def words_of(path):
    """Count the words of a file's code; a docstring uses nothing."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        return Counter(re.findall(r"\w+", text))
    found = Counter()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.NAME or (token.type == tokenize.STRING and not token.string.startswith('"""')):
            found.update(re.findall(r"\w+", token.string))
    return found


def defined(path):
    """List the names that a file defines: functions, methods, classes, and constants of the module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            marks = {mark.id for mark in node.decorator_list if isinstance(mark, ast.Name)}
            if not marks & set(DECLARED):
                yield node.lineno, node.name
    for node in tree.body:
        targets = (
            node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
        )
        yield from ((node.lineno, target.id) for target in targets if isinstance(target, ast.Name))


def main():
    """Print file, line and name of what nothing in the program uses."""
    files = sorted((ROOT / "fieldkit").rglob("*.py"))
    names = [(path, line, name) for path in files for line, name in defined(path)]
    times = Counter(name for _, _, name in names)
    used = sum(map(words_of, [*files, *(ROOT / "fieldkit").rglob("*.j2")]), Counter())
    tested = sum(map(words_of, (ROOT / "tests").rglob("*.py")), Counter())
    for path, line, name in names:
        if used[name] <= times[name] and not name.startswith(CALLED_BY_NAME) and name not in TEXTUAL:
            only = "   (tests alone)" if tested[name] else ""
            print(f"{path.relative_to(ROOT)}:{line}  {name}{only}")


if __name__ == "__main__":
    main()
