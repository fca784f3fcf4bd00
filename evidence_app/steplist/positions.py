"""Which line of a TOML file each table, key and array element stands on.

The standard library's parser gives values without their lines. This scanner
walks the same text once more and notes lines only; it relies on the text being
valid TOML 1.0 (the parser has accepted it) and so need not refuse anything.
"""

import re
import tomllib

from evidence_app.steplist.defect import Path

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY_PART = re.compile(r"""[ \t]*("(?:\\.|[^"\\])*"|'[^']*'|[A-Za-z0-9_-]+)[ \t]*""")
_SCALAR = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'  # a closing run may hold two more quotation marks
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:\\.|[^"\\])*"'
    r"|'[^']*'"
    r"|\d{4}-\d\d-\d\d \d[^,\]}\s#]*"  # a date and a time may be joined by a space
    r"|[^,\]}\s#]+",
    re.DOTALL,
)


class Positions:
    """Lines (from 1) of the keys in ``text``, which must be valid TOML."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._counted_to = 0
        self._line = 1
        self._lengths: dict[Path, int] = {}
        self._lines: dict[Path, int] = {(): 1}
        self._scan()

    def line(self, path: Path) -> int:
        """Line of ``path``, or of the nearest table around it that is written."""
        while path not in self._lines:
            path = path[:-1]
        return self._lines[path]

    def _scan(self) -> None:
        table: Path = ()
        while self._skip_blank():
            if self._text.startswith("[[", self._at):
                table = self._header(2)
            elif self._text[self._at] == "[":
                table = self._header(1)
            else:
                self._key_and_value(table)

    def _header(self, brackets: int) -> Path:
        """Read ``[a.b]`` or ``[[a.b]]`` and give the path of its table."""
        line = self._current_line()
        self._at += brackets
        *outer, last = self._key()
        self._at += brackets
        path: Path = ()
        for part in outer:
            path = self._newest(self._note((*path, part), line))
        path = self._note((*path, last), line)
        if brackets == 1:
            return path
        self._lengths[path] = self._lengths.get(path, 0) + 1
        return self._note(self._newest(path), line)

    def _key_and_value(self, table: Path) -> None:
        line = self._current_line()
        path = table
        for part in self._key():
            path = self._note((*path, part), line)
        self._at += 1  # the equals sign
        self._skip_blank()
        self._value(path)

    def _value(self, path: Path) -> None:
        opening = self._text[self._at]
        if opening not in "[{":
            self._match(_SCALAR)
            return
        self._at += 1
        index = 0
        while self._skip_blank() and self._text[self._at] not in "]}":
            if self._text[self._at] == ",":
                self._at += 1
            elif opening == "{":
                self._key_and_value(path)
            else:
                self._value(self._note((*path, index), self._current_line()))
                index += 1
        self._at += 1

    def _key(self) -> list[str]:
        """Read a key, dotted or not, up to what follows it."""
        parts = []
        while True:
            written = self._match(_KEY_PART).group(1)
            quoted = written[0] in "\"'"
            parts.append(tomllib.loads(f"key = {written}")["key"] if quoted else written)
            if not self._text.startswith(".", self._at):
                return parts
            self._at += 1

    def _skip_blank(self) -> bool:
        """Pass over blanks and comments; False at the end of the text."""
        self._match(_BLANK)
        return self._at < len(self._text)

    def _match(self, pattern: re.Pattern[str]) -> re.Match[str]:
        """Go past ``pattern``, which stands here: the text was read as TOML before."""
        match = pattern.match(self._text, self._at)
        assert match is not None, f"no {pattern.pattern} at {self._at}"
        self._at = match.end()
        return match

    def _current_line(self) -> int:
        self._line += self._text.count("\n", self._counted_to, self._at)
        self._counted_to = self._at
        return self._line

    def _note(self, path: Path, line: int) -> Path:
        self._lines.setdefault(path, line)
        return path

    def _newest(self, path: Path) -> Path:
        """The newest element when ``path`` is an array of tables, else ``path``."""
        length = self._lengths.get(path)
        return path if length is None else (*path, length - 1)
