"""Print the size table of the code, so that releases can be compared.

Every .py of the package; `__init__.py` under 5 lines left out. Lines include blanks; a function's length
excludes its docstring; comment and docstring are shares of non-blank lines.
"""

import ast
import io
import statistics
import sys
import tokenize
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "saddlebench"


@dataclass(frozen=True, slots=True, kw_only=True)
class FileSize:
    """What one file adds to the table."""

    path: Path
    lines: int
    filled: int
    comments: int
    docstrings: int
    functions: tuple[int, ...]
    typed: int
    dataclasses: int
    frozen: int
    classes: int


def docstring_lines(node: ast.AST) -> int:
    """Return how many lines a node's docstring takes."""
    if not isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
        return 0
    first = node.body[0] if node.body else None
    if (
        isinstance(first, ast.Expr)
        and isinstance(first.value, ast.Constant)
        and isinstance(first.value.value, str)
    ):
        return (first.end_lineno or first.lineno) - first.lineno + 1
    return 0


def is_typed(function: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    """Tell whether a function has a return type or all its parameters annotated."""
    parameters = [
        a
        for a in function.args.posonlyargs + function.args.args + function.args.kwonlyargs
        if a.arg != "self"
    ]
    return function.returns is not None or all(a.annotation is not None for a in parameters)


def measure(path: Path) -> FileSize:
    """Count one file."""
    text = path.read_text(encoding="utf-8")
    nodes = list(ast.walk(ast.parse(text)))
    functions = [n for n in nodes if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    classes = [n for n in nodes if isinstance(n, ast.ClassDef)]
    decorators = [
        [ast.unparse(d) for d in c.decorator_list if "dataclass" in ast.unparse(d)] for c in classes
    ]
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return FileSize(
        path=path,
        lines=len(text.splitlines()),
        filled=sum(1 for line in text.splitlines() if line.strip()),
        comments=sum(1 for t in tokens if t.type == tokenize.COMMENT),
        docstrings=sum(docstring_lines(n) for n in nodes),
        functions=tuple((f.end_lineno or f.lineno) - f.lineno + 1 - docstring_lines(f) for f in functions),
        typed=sum(is_typed(f) for f in functions),
        dataclasses=sum(1 for d in decorators if d),
        frozen=sum(1 for d in decorators if d and "frozen=True" in d[0]),
        classes=len(classes),
    )


def quantile(values: list[int], share: float) -> int:
    """Return the value below which the share lies."""
    ordered = sorted(values)
    return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


def row(name: str, files: list[FileSize], test_lines: int) -> str:
    """Return one row of the table."""
    lines = [f.lines for f in files]
    functions = [n for f in files for n in f.functions] or [0]
    filled = sum(f.filled for f in files)
    typed = sum(f.typed for f in files) / max(len(functions), 1)
    cells = [
        name,
        str(len(files)),
        f"{statistics.median(lines):.0f} / {quantile(lines, 0.9)} / {max(lines)}",
        f"{sum(n > 400 for n in lines) / len(lines):.0%}",
        f"{statistics.median(functions):.0f} / {quantile(functions, 0.95)} / {max(functions)}",
        f"{sum(f.comments for f in files) / filled:.1%}",
        f"{sum(f.docstrings for f in files) / filled:.0%}",
        f"{typed:.0%}",
        " / ".join(
            str(sum(getattr(f, kind) for f in files)) for kind in ("frozen", "dataclasses", "classes")
        ),
        f"{test_lines / sum(lines):.2f}" if test_lines else "",
    ]
    return "| " + " | ".join(cells) + " |"


def main() -> int:
    """Print the table: the whole package, then each storey."""
    files = [measure(p) for p in sorted(PACKAGE.rglob("*.py"))]
    files = [f for f in files if not (f.path.name == "__init__.py" and f.lines < 5)]
    tests = sum(len(p.read_text(encoding="utf-8").splitlines()) for p in (ROOT / "tests").rglob("*.py"))
    print(
        "| part | files | file lines med / p90 / max | > 400 | fn med / p95 / max | comment | docstr. "
        "| typed | frozen / dataclasses / classes | test:src |\n|" + " --- |" * 10
    )
    print(row("saddlebench", files, tests))
    for part in sorted({f.path.relative_to(PACKAGE).parts[0] for f in files if f.path.parent != PACKAGE}):
        print(row(part, [f for f in files if f.path.relative_to(PACKAGE).parts[0] == part], 0))
    longest = sorted(files, key=lambda f: -f.lines)[:5]
    print("\nLongest files: " + ", ".join(f"{f.path.relative_to(PACKAGE)} {f.lines}" for f in longest))
    return 0


if __name__ == "__main__":
    sys.exit(main())
