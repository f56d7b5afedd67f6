"""Finds, in the syntax of a module, writes to the register's models."""

import ast
from collections.abc import Iterator

WRITES = {
    *("create", "bulk_create", "get_or_create", "update_or_create", "bulk_update", "update", "delete", "save"),
    *("acreate", "abulk_create", "aget_or_create", "aupdate_or_create", "abulk_update", "aupdate", "adelete", "asave"),
}


def writes(module: ast.Module) -> Iterator[tuple[int, str]]:
    """(line, source) of each call that writes rows of a model imported from `fleet.models`.

    Follows names: a variable made from a model, looped over one, or annotated with one counts as the model.
    """
    models = _models(module)
    if not models:
        return
    for scope in [module, *(node for node in ast.walk(module) if isinstance(node, ast.FunctionDef))]:
        known = _stand_for_models(scope, models)
        for node in ast.walk(scope):
            if _is_write(node, known):
                yield node.lineno, ast.unparse(node)


def _models(module: ast.Module) -> set[str]:
    """Names under which the module knows the register's models, or the module that holds them."""
    return {
        alias.asname or alias.name
        for node in ast.walk(module)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if (node.module or "").startswith("fleet.models") or (node.module == "fleet" and alias.name == "models")
    }


def _is_write(node: ast.AST, known: set[str]) -> bool:
    return (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in WRITES
        and _root(node.func.value) in known
    )


def _stand_for_models(scope: ast.AST, models: set[str]) -> set[str]:
    """Grow the set of names until nothing new is made from them."""
    known = set(models)
    if isinstance(scope, ast.FunctionDef):
        arguments = [*scope.args.posonlyargs, *scope.args.args, *scope.args.kwonlyargs]
        known |= {one.arg for one in arguments if one.annotation is not None and _names(one.annotation) & models}
    while grown := {target for target, source in _bindings(scope) if _root(source) in known} - known:
        known |= grown
    return known


def _bindings(scope: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    for node in ast.walk(scope):
        if isinstance(node, ast.Assign):
            pairs = [(target, node.value) for target in node.targets]
        elif isinstance(node, ast.AnnAssign | ast.NamedExpr) and node.value is not None:
            pairs = [(node.target, node.value)]
        elif isinstance(node, ast.For | ast.comprehension):
            pairs = [(node.target, node.iter)]
        else:
            continue
        yield from ((target.id, source) for target, source in pairs if isinstance(target, ast.Name))


def _root(node: ast.expr) -> str:
    """The first name of a chain such as `Bow.objects.filter(...)[0]`."""
    while True:
        if isinstance(node, ast.Attribute | ast.Subscript):
            node = node.value
        elif isinstance(node, ast.Call):
            node = node.func
        elif isinstance(node, ast.BoolOp):
            node = node.values[0]
        else:
            return node.id if isinstance(node, ast.Name) else ""


def _names(annotation: ast.expr) -> set[str]:
    return {node.id for node in ast.walk(annotation) if isinstance(node, ast.Name)}
