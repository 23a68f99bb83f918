"""Bad input, said in one line."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class InputError(Exception):
    """A file, an option or a field that cannot be taken.

    ``file`` is the file's name as the user gave it (or the option's), ``field`` the place inside it ("parts[3].at"),
    ``fault`` what is wrong and what would be right. ``str()`` is the one line a user sees.
    """

    def __init__(self, fault: str, *, file: str = "", field: str = "") -> None:
        self.file, self.field, self.fault = file, field, fault
        super().__init__(fault)

    def __str__(self) -> str:
        return one_line(self.file, self.field, self.fault)

    def within(self, file: str) -> InputError:
        """The same fault, told of ``file`` where no file is named yet."""
        return InputError(self.fault, file=self.file or file, field=self.field)

    def under(self, place: str) -> InputError:
        """The same fault, told of what stands at ``place``, of which ``field`` is a part."""
        return InputError(self.fault, file=self.file, field=f"{place}.{self.field}" if self.field else place)


def one_line(*parts: str) -> str:
    """``file: field: fault``: those that say something, each without line breaks."""
    return ": ".join(" ".join(part.split()) for part in parts if part)


def nearest(word: str, known: Iterable[str]) -> str:
    """``did you mean "relay"?`` for the known word nearest to ``word``; else the list of what is known."""
    choices = list(known)
    close = difflib.get_close_matches(word, choices, n=1, cutoff=0.5)
    if close:
        return f'did you mean "{close[0]}"?'
    return "known are " + ", ".join(choices)
