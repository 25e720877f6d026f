"""What the tests of pages share: a reader of HTML, a measure of reading, a headless browser."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

VOID = {"meta", "br", "link", "img", "hr", "input", "circle", "line", "rect", "polyline"}


@dataclass
class Node:
    """An element; `children` are elements and text in order."""

    tag: str
    attributes: dict[str, str]
    children: list[Node | str] = field(default_factory=list)

    def all(self, *tags: str) -> list[Node]:
        found = []
        for child in self.children:
            if isinstance(child, Node):
                if not tags or child.tag in tags:
                    found.append(child)
                found += child.all(*tags)
        return found

    def text(self, without: tuple[str, ...] = ()) -> str:
        return "".join(
            child if isinstance(child, str) else "" if child.tag in without else child.text(without)
            for child in self.children
        )


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), (tag, attrs)
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].children.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].children.append(data)


def read(page: str) -> Node:
    """The elements of a page; fails if a tag is not closed in its place."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    assert len(reader.open) == 1, f"never closed: {reader.open[-1].tag}"
    return reader.root


def syllables(word: str) -> int:
    """Syllables of an English word, by its groups of vowels; a silent e at the end and in -ed is not counted."""
    letters = re.sub(r"[^a-z]", "", word.lower())
    groups = len(re.findall(r"[aeiouy]+", letters))
    if re.search(r"[^aeiouyl]e$|[^aeiouytd]ed$|[^aeiouysxzcg]es$", letters) and groups > 1:
        groups -= 1
    return max(groups, 1)


def reading_grade(sentences: list[str]) -> float:
    """Flesch-Kincaid grade level: 0.39 words a sentence + 11.8 syllables a word - 15.59.

    Kincaid, Fishburne, Rogers & Chissom 1975, Research Branch Report 8-75, Naval Technical Training (formula read in
    secondary accounts of it).
    """
    words = [word for sentence in sentences for word in re.findall(r"[A-Za-z][A-Za-z’'-]*", sentence)]
    return 0.39 * len(words) / len(sentences) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59


def prose(page: Node) -> list[str]:
    """Sentences of paragraphs and lists, without scraps, and without names and sources, which nobody can reword."""
    sentences = []
    for block in page.all("p", "li"):
        text = block.text(without=("bdi",))
        for sentence in re.split(r"(?<=[.!?])\s+", text):
            if len(re.findall(r"[A-Za-z]+", sentence)) >= 4:
                sentences.append(sentence)
    return sentences


def chromium() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


def browse(page: Path, *options: str) -> subprocess.CompletedProcess[str]:
    """Opens a page in headless Chromium with a profile of its own that is thrown away."""
    program = chromium()
    assert program is not None
    with tempfile.TemporaryDirectory() as profile:
        command = [
            program,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--no-first-run",
            "--hide-scrollbars",
            f"--user-data-dir={profile}",
            *options,
            page.as_uri(),
        ]
        # Its helpers outlive it by a moment and hold pipes open; files do not wait for them.
        with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
            done = subprocess.run(command, stdin=subprocess.DEVNULL, stdout=out, stderr=err, timeout=120)
            out.seek(0)
            err.seek(0)
            return subprocess.CompletedProcess(command, done.returncode, out.read(), err.read())
