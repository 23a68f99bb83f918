"""A page for each command, from the command itself: what ``--help`` says, as tables."""

from __future__ import annotations

from typing import Any, Final

from typer.main import get_command

from reference.markdown import code, contents, plain, table
from splitwright.app import COMMANDS, app

PRINTS: Final = {
    "new": ("new",), "propose": ("proposals", "hall-proposals"), "tighter": ("proposals", "hall-proposals"),
    "improve": ("improvement",), "compare": ("compare",), "trial": ("trial",), "assure": ("assurance",),
    "shift": ("shift",), "check": ("check",), "draw": ("layout",), "sheet": ("sheet",), "watch": ("watch",),
    "size": ("size",), "labels": ("labels",), "laws": ("laws",), "probe": ("probe",),
}  # fmt: skip
"""The documents that each command prints with ``--json``."""


def command_pages() -> dict[str, str]:
    """A page a command, and the list of them."""
    pages = {f"commands/{name}.md": "\n".join(_page(name)) for name in COMMANDS}
    rows = [(f"[{name}](commands/{name}.md)", _paragraphs(name)[0]) for name in COMMANDS]
    pages["commands.md"] = "\n".join(
        [
            "# Commands",
            "",
            "Each takes `--json` (one JSON document on standard output), `--quiet` and `--help`. Exit status: 0 yes or"
            " done, 1 the answer is no, 2 wrong use or bad input, 3 stopped without an answer.",
            "",
            *table(("command", "does"), rows),
            *contents(f"commands/{name}" for name in COMMANDS),
        ]
    )
    return pages


def command_of(name: str) -> Any:
    """The command as Typer has it."""
    return get_command(app).get_command(None, name)  # type: ignore[attr-defined]


def _paragraphs(name: str) -> list[str]:
    return [plain(paragraph) for paragraph in command_of(name).help.split("\n\n")]


def _page(name: str) -> list[str]:
    command = command_of(name)
    arguments = [one for one in command.params if one.param_type_name == "argument"]
    options = [one for one in command.params if one.param_type_name == "option"]
    documents = ", ".join(f"[{one}](../documents/{one}.md)" for one in PRINTS[name])
    example = command.epilog.removeprefix("Example: ")
    lines = [f"# splitwright {name}", ""]
    for paragraph in _paragraphs(name):
        lines += [paragraph, ""]
    lines += ["```sh", example, "```", ""]
    if arguments:
        lines += ["## What it takes", ""]
        lines += table(("argument", "is"), [(code(_shown(one)), _help(one)) for one in arguments])
    lines += ["## Options", ""]
    lines += table(("option", "left out", "does"), [(_names(one), _default(one), _help(one)) for one in options])
    return [*lines, f"With `--json` it prints this document: {documents}.", ""]


def _shown(parameter: Any) -> str:
    return str(parameter.metavar or parameter.name.upper())


def _names(option: Any) -> str:
    names = ", ".join(code(name) for name in (*option.opts, *option.secondary_opts))
    return names if option.is_flag else f"{names} {code(_shown(option))}"


def _default(option: Any) -> str:
    if isinstance(option.show_default, str):
        return plain(option.show_default)
    if option.is_flag or option.default in (None, (), []) or callable(option.default):
        return ""
    return code(option.default)


def _help(parameter: Any) -> str:
    return plain(parameter.help or "")
