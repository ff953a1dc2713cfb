"""Check that every public array parameter of the engine names its shape, frame or kind, and unit.

A public function of `engine/` whose parameter or field is annotated as an array must document it somewhere in
its docstring (or the docstring under the field) with a shape in round brackets, such as "(n, 3) float".
"""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

ENGINE = Path(__file__).resolve().parent.parent / "src" / "saddlebench" / "engine"
SHAPE = re.compile(
    r"\((?:[\w +·×*/−-]+,\s?)+(?:[\w +·×*/−-]+)?\)|scalar or array|same shape|broadcast", re.UNICODE
)
ARRAY = re.compile(r"\b(FloatArray|NDArray|ndarray)\b")


def is_array(annotation: ast.expr | None) -> bool:
    """Tell whether an annotation speaks of an array."""
    return annotation is not None and bool(ARRAY.search(ast.unparse(annotation)))


def function_faults(function: ast.FunctionDef) -> list[str]:
    """Return the array parameters whose function's docstring gives no shape at all."""
    arguments = function.args.posonlyargs + function.args.args + function.args.kwonlyargs
    arrays = [a.arg for a in arguments if is_array(a.annotation)]
    text = ast.get_docstring(function) or ""
    if not arrays or function.name.startswith("_"):
        return []
    missing = [name for name in arrays if not re.search(rf"\b{name}\b", text)] if "Parameters" in text else []
    if not SHAPE.search(text):
        missing = arrays
    return [f"{function.name}: {name}" for name in missing]


def class_faults(owner: ast.ClassDef) -> list[str]:
    """Return the array fields of a dataclass that carry no shape; a field may share the next field's."""
    faults: list[str] = []
    pending: list[str] = []
    for statement in owner.body:
        if isinstance(statement, ast.AnnAssign) and isinstance(statement.target, ast.Name):
            if is_array(statement.annotation):
                pending.append(statement.target.id)
        elif isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant):
            if pending and not SHAPE.search(str(statement.value.value)):
                faults += [f"{owner.name}.{name}" for name in pending]
            pending = []
    if pending and not SHAPE.search(ast.get_docstring(owner) or ""):
        faults += [f"{owner.name}.{name}" for name in pending]
    return [] if owner.name.startswith("_") else faults


def public_nodes(tree: ast.Module) -> Iterator[ast.FunctionDef | ast.ClassDef]:
    """Yield a module's functions and classes, and the methods of its classes; nothing inside a function."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node
        if isinstance(node, ast.ClassDef):
            yield from (member for member in node.body if isinstance(member, ast.FunctionDef))


def main() -> int:
    """Print every fault with its file; exit 1 if there is one."""
    faults: list[str] = []
    for path in sorted(ENGINE.rglob("*.py")):
        if path.stem.startswith("_"):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in public_nodes(tree):
            found = []
            if isinstance(node, ast.FunctionDef):
                found = function_faults(node)
            elif isinstance(node, ast.ClassDef):
                found = class_faults(node)
            faults += [f"{path.relative_to(ENGINE.parent)}:{node.lineno} {fault}" for fault in found]
    for fault in faults:
        print(f"{fault}: no shape, frame and unit in the docstring")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
