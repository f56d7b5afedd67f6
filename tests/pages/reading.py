"""Reading a page as a browser's parser does: its text, its controls, what it would run."""

from html.parser import HTMLParser

from django.http import HttpResponse

CONTROLS = {"input", "select", "textarea"}
VOID = {"input", "meta", "link", "br", "img", "hr", "rect", "line", "path"}


class Page(HTMLParser):
    """What a test asks of a page."""

    def __init__(self, response: HttpResponse) -> None:
        super().__init__()
        self.controls: list[dict[str, str]] = []
        self.label_for: set[str] = set()
        self.inline: list[str] = []
        self.words: list[str] = []
        self._in_labels = 0
        self._raw = ""
        self.feed(response.content.decode())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        self._note_inline(tag, found)
        if tag == "label":
            self._in_labels += 1
            self.label_for.add(found.get("for", ""))
        if tag in ("script", "style"):
            self._raw = tag
        if tag in CONTROLS and found.get("type") != "hidden":
            self.controls.append({**found, "tag": tag, "inside_label": "yes" if self._in_labels else ""})

    def handle_endtag(self, tag: str) -> None:
        if tag == "label":
            self._in_labels -= 1
        if tag == self._raw:
            self._raw = ""

    def handle_data(self, data: str) -> None:
        if self._raw:
            if data.strip():
                self.inline.append(f"<{self._raw}> {data.strip()[:60]}")
        elif data.strip():
            self.words.append(" ".join(data.split()))

    def _note_inline(self, tag: str, attrs: dict[str, str]) -> None:
        for name, value in attrs.items():
            if name == "style" or name.startswith("on") or name.startswith("hx-on") or value.startswith("javascript:"):
                self.inline.append(f"<{tag} {name}={value[:60]!r}>")
        if tag == "script" and not attrs.get("src", "").startswith("/static/"):
            self.inline.append(f"<script> from {attrs.get('src', 'nowhere')}")

    @property
    def text(self) -> str:
        """Everything that can be read, in order."""
        return " ".join(self.words)

    @property
    def unlabelled(self) -> list[str]:
        """Controls that no label and no aria-label names."""
        return [
            str(one)
            for one in self.controls
            if not (one["inside_label"] or one.get("aria-label") or one.get("id", "") in self.label_for - {""})
        ]

    def value(self, name: str) -> str:
        """The text standing in an input."""
        return next(one.get("value", "") for one in self.controls if one.get("name") == name)

    def control(self, name: str) -> dict[str, str]:
        """One control by its name in the form."""
        return next(one for one in self.controls if one.get("name") == name)
