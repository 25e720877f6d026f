"""The typed stubs name exactly what the extension module holds, and mypy accepts the package."""

import ast
import inspect
from pathlib import Path
from types import ModuleType

import pytest
from warmledger import _core

STUBS = Path(__file__).resolve().parents[2] / "bindings" / "warmledger" / "_core"
ROOMS = sorted(path.stem for path in STUBS.glob("*.pyi") if path.stem != "__init__")


def stub(name: str) -> ast.Module:
    return ast.parse((STUBS / f"{name}.pyi").read_text(encoding="utf-8"))


def names_of(body: list[ast.stmt]) -> set[str]:
    found = set()
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            found.add(node.target.id)
    return found


def public(thing: object) -> set[str]:
    return {name for name in vars(thing) if not name.startswith("_")}


def test_every_room_has_a_stub() -> None:
    rooms = {name for name in public(_core) if isinstance(getattr(_core, name), ModuleType)}
    assert set(ROOMS) == rooms
    assert names_of(stub("__init__").body) == public(_core) - rooms


@pytest.mark.parametrize("room", ROOMS)
def test_names_of_a_room(room: str) -> None:
    assert names_of(stub(room).body) == public(getattr(_core, room))


@pytest.mark.parametrize("room", [room for room in ROOMS if room != "errors"])
def test_members_of_classes(room: str) -> None:
    module = getattr(_core, room)
    for node in stub(room).body:
        if isinstance(node, ast.ClassDef):
            cls = getattr(module, node.name)
            assert {name for name in names_of(node.body) if name != "__init__"} == public(cls), node.name


@pytest.mark.parametrize("room", ROOMS)
def test_arguments_of_functions(room: str) -> None:
    """pybind11 writes the signature in the first line of the docstring."""
    module = getattr(_core, room)
    for node in stub(room).body:
        if isinstance(node, ast.FunctionDef):
            signature = inspect.getdoc(getattr(module, node.name)).splitlines()[0]  # type: ignore[union-attr]
            arguments = [a.arg for a in node.args.posonlyargs + node.args.args + node.args.kwonlyargs]
            for argument in arguments:
                assert f"{argument}: " in signature, f"{room}.{node.name}: {signature}"
            inside = signature[signature.index("(") + 1 : signature.rindex(")")]
            count = inside.count(": ") if inside else 0
            assert count == len(arguments) + inside.count("Dict[int: "), f"{room}.{node.name}: {signature}"
