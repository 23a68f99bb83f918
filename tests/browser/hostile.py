"""Names that hold markup and scripts, wherever a user may put a name; and the same names without any teeth."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from splitwright.words.catalogue import catalogue

PAYLOADS: Final = (
    '<script>document.title="hit"</script>',
    "\"><img src=x onerror='document.title=\"hit\"'>",
    "'><svg onload=document.title='hit'></svg>",
    '</script><script>document.title="hit"</script>',
    "</style><style>@import 'http://kiln.invalid'</style>",
    "</title></head><body onload=document.title='hit'>",
    "]]><script>document.title='hit'</script><![CDATA[",
    "--><script>document.title='hit'</script><!--",
    "</svg></g><iframe src=javascript:alert(1)></iframe>",
    "</textarea></select></table><form action=//kiln.invalid>",
    "javascript:document.title='hit'",
    "\\u003cscript>\\x3cscript>document.title='hit'",
    "&lt;script&gt;&#60;script&#62;alert(1)&quot;&#39;",
    "{{ 7 * 7 }}{% raw %}${document.title='hit'}`",
    "' style=position:fixed;background:url(//kiln.invalid) x='",
    "\u2028*/;document.title='hit';/*\u202e",
)
"""Ways out of text, of attributes, of scripts, styles, titles, comments, SVG and templates; each at most 60 long."""
LETTERS: Final = ('"><', "<b>", "'>&", "]]>", "-->", "{{}")
KINDS: Final = ("bin", "node", "furnace", "support", "line", "inverter", "relay", "gauge")
_LETS_ALONE: Final = ("part.", "direction.", "letter.", "sheet.writing")
"""Phrases that have tables of their own in a labels file, and the one that is no text: the direction of writing."""
Edge = Callable[[str], str]


def sharp(text: str) -> str:
    """As it is."""
    return text


def blunt(text: str) -> str:
    """As long, with blanks and digits where they are, and nothing that means anything to a browser."""
    return re.sub(r"[^\w ]", "x", text).replace("_", "x")


def hostile_layout(layout: dict[str, Any], edge: Edge) -> dict[str, Any]:
    """A layout document with every name in it replaced; it must split clay alone."""
    names = [edge(payload) for payload in PAYLOADS]
    return {
        **layout,
        "title": " ".join(names),
        "items": {
            edge(PAYLOADS[0] + PAYLOADS[3]): {"stack": 64, "fires_to": edge(PAYLOADS[1] + PAYLOADS[6])},
            edge(PAYLOADS[4] + PAYLOADS[7]): {"stack": 16, "burn": 1600},
        },
        "streams": [
            {**stream, "name": edge(f"{number} {PAYLOADS[2]}{PAYLOADS[5]}"), "item": edge(PAYLOADS[0] + PAYLOADS[3])}
            for number, stream in enumerate(layout["streams"])
        ],
    }


def hostile_labels(edge: Edge) -> str:
    """A labels file that renames every part, item, direction and phrase."""
    quoted, names = json.dumps, [edge(f"{payload[:56]}") + f" {i}" for i, payload in enumerate(PAYLOADS)]
    lines = ["[parts]", *(f"{kind} = [{quoted(names[i])}, {quoted(names[i] + 's')}]" for i, kind in enumerate(KINDS))]
    lines += ["[items]", f"{quoted(edge(PAYLOADS[4] + PAYLOADS[7]))} = {quoted(names[8])}"]
    lines += ["[directions]"]
    for i, way in enumerate("EWNSUD"):
        letter = LETTERS[i] if edge is sharp else f"xx{i}"
        lines.append(f"{way} = {{name = {quoted(names[9 + i])}, letter = {quoted(letter)}}}")
    lines += ["[phrases]"]
    for i, (key, phrase) in enumerate(sorted(catalogue("en").items())):
        if not key.startswith(_LETS_ALONE):
            text = edge(PAYLOADS[i % len(PAYLOADS)]).replace("{", "{{").replace("}", "}}")
            lines.append(f"{quoted(key)} = {quoted(f'{text} {phrase}')}")
    return "\n".join(lines) + "\n"


def write_hostile(folder: Path, layout: dict[str, Any], edge: Edge) -> tuple[Path, Path]:
    """A layout file and a labels file."""
    plan, labels = folder / f"{edge.__name__}.json", folder / f"{edge.__name__}.toml"
    plan.write_text(json.dumps(hostile_layout(layout, edge)), encoding="utf-8")
    labels.write_text(hostile_labels(edge), encoding="utf-8")
    return plan, labels
