"""Loading plugins: the built-in packages, installed distributions and single files, each in its own try.

A broken plugin is named with its distribution and version, and the rest go on. Two checks that give one
quantity, or checks that need each other, are refused at start-up: no audit could be trusted then.
"""

from __future__ import annotations

import graphlib
import importlib
import importlib.util
import inspect
import pkgutil
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import pluggy

from audit import hooks
from audit.model import Check, Quantity, Reader, Refusal, RequirementSet, Writer
from audit.register import quantity_register

BUILT_IN = ("plugins.ingest", "plugins.checks", "plugins.outputs", "plugins.requirements")
HOME = Path(__file__).resolve().parent.parent


@dataclass
class Plugins:
    """What all plugins registered, and which of them failed: origin -> what happened."""

    readers: list[Reader] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    writers: list[Writer] = field(default_factory=list)
    requirements: list[RequirementSet] = field(default_factory=list)
    origins: dict[str, str] = field(default_factory=dict)  # descriptor kind and name -> where it comes from
    docs: dict[str, str] = field(default_factory=dict)  # the same -> the docstring of its plugin
    faults: dict[str, str] = field(default_factory=dict)

    def quantities(self) -> dict[str, Quantity]:
        """Return the register with the quantities that plugins add."""
        return dict(quantity_register()) | {q.name: q for check in self.checks for q in check.gives}

    def giver(self) -> Mapping[str, Check]:
        """Return quantity -> the one check that answers it."""
        return {quantity.name: check for check in self.checks for quantity in check.gives}

    def assessors(self) -> Mapping[str, Callable[[Any, Any, float], Any]]:
        """Return quantity -> how its check puts a claim to the limits, where it has a way of its own."""
        return {name: check.assess for name, check in self.giver().items() if check.assess is not None}


def load(files: Iterable[Path] = ()) -> Plugins:
    """Load every plugin. Raises Refusal for an installation or a set of checks that can't be used."""
    _refuse_intruders()
    manager = pluggy.PluginManager(hooks.PROJECT)
    manager.add_hookspecs(hooks)
    found = Plugins()
    for origin, bring in _sources(files):
        try:
            module = bring()
            _register(manager, module, origin)
            _collect(manager, module, origin, found)
        except Exception as error:  # whatever a plugin raises is that plugin's fault and named as such
            found.faults[origin] = f"{type(error).__name__}: {error}"
    found.checks = _ordered(found.checks)
    return found


def _refuse_intruders() -> None:
    """The three packages have common names: make sure that they are ours, from one folder."""
    for name in ("plugins", "schemas"):
        package = importlib.import_module(name)
        parents = {Path(path).resolve().parent for path in package.__path__}
        if parents != {HOME}:
            raise Refusal(
                f"the package '{name}' in use comes from {', '.join(map(str, parents))}, not from Claimlight",
                ask="install Claimlight in a virtual environment of its own, and start it from another folder",
            )


def _sources(files: Iterable[Path]) -> Iterator[tuple[str, Any]]:
    for package in BUILT_IN:
        for module in pkgutil.iter_modules(importlib.import_module(package).__path__):
            name = f"{package}.{module.name}"
            yield name, lambda name=name: importlib.import_module(name)
    from importlib.metadata import entry_points

    for entry in sorted(entry_points(group=hooks.PROJECT), key=lambda entry: entry.name):
        distribution = f"{entry.dist.name} {entry.dist.version}" if entry.dist else "unknown distribution"
        yield f"{entry.name} ({distribution})", entry.load
    for path in files:
        yield str(path), lambda path=path: _from_file(path)


def _from_file(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"claimlight_plugin_{path.stem}", path)
    if spec is None or spec.loader is None or not path.is_file():
        raise FileNotFoundError(f"'{path}' is no Python file")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _register(manager: pluggy.PluginManager, plugin: object, origin: str) -> None:
    """Register a plugin; unknown arguments and misspelt hooks are refused with the plugin's name."""
    manager.register(plugin, name=origin)
    try:
        manager.check_pending()
    except pluggy.PluginValidationError:
        manager.unregister(plugin)
        raise


def _collect(manager: pluggy.PluginManager, plugin: object, origin: str, found: Plugins) -> None:
    """Call this plugin's own hooks. Nothing of it is kept unless all of them answer."""
    kinds: dict[str, type] = {
        "readers": Reader,
        "checks": Check,
        "writers": Writer,
        "requirements": RequirementSet,
    }
    fresh: dict[str, list[Any]] = {}
    for kind, expected in kinds.items():
        caller = getattr(manager.hook, f"register_{kind}")
        for implementation in caller.get_hookimpls():
            if implementation.plugin is plugin:
                fresh[kind] = list(implementation.function())
                strangers = [item for item in fresh[kind] if not isinstance(item, expected)]
                if strangers:
                    raise TypeError(f"register_{kind} must return {expected.__name__} objects, not {strangers[0]!r}")
    for kind, items in fresh.items():
        for item in items:
            key = f"{kind[:-1]} {item.name}"
            if key in found.origins:
                raise ValueError(f"there is a {key} already, from {found.origins[key]}")
    for kind, items in fresh.items():
        getattr(found, kind).extend(items)
        keys = [f"{kind[:-1]} {item.name}" for item in items]
        found.origins |= dict.fromkeys(keys, origin)
        found.docs |= dict.fromkeys(keys, inspect.cleandoc(plugin.__doc__ or ""))


def _ordered(checks: list[Check]) -> list[Check]:
    """Return the checks so that each derives after those whose quantities it needs."""
    giver: dict[str, Check] = {}
    for check in checks:
        for quantity in check.gives:
            other = giver.setdefault(quantity.name, check)
            if other is not check:
                raise Refusal(
                    f"the checks '{other.name}' and '{check.name}' both give the quantity '{quantity.name}'",
                    ask="remove one of the two plugins",
                )
    by_name = {check.name: check for check in checks}
    graph = {check.name: {giver[need].name for need in check.needs if need in giver} - {check.name} for check in checks}
    try:
        return [by_name[name] for name in graphlib.TopologicalSorter(graph).static_order()]
    except graphlib.CycleError as error:
        raise Refusal(
            f"the checks {' -> '.join(error.args[1])} need each other's quantities",
            ask="remove one of these plugins",
        ) from error
