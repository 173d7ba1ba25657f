"""What a plan consists of, whatever it is printed or shown on. Words and vectors, no layout."""

from __future__ import annotations

from dataclasses import dataclass

from .illustration import Illustration


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True)
class Text:
    """A paragraph. note: a side note, in small and soft type; bold: a few words that lead."""

    text: str
    note: bool = False
    bold: bool = False


@dataclass(frozen=True)
class Bullets:
    """A list."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Box:
    """Something to tick. key: what its tick is remembered by, unique in a plan."""

    key: str
    text: str


@dataclass(frozen=True)
class Boxes:
    """A list to tick."""

    items: tuple[Box, ...]


@dataclass(frozen=True)
class Column:
    """A column of a table: heading, share of the width, alignment "start" or "end"."""

    title: str
    share: float
    anchor: str = "start"


@dataclass(frozen=True)
class Table:
    """A table with a head."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Views:
    """Pictures in a grid of this many columns, each with its caption."""

    pictures: tuple[Illustration, ...]
    columns: int


@dataclass(frozen=True)
class Tones:
    """The grey levels of a shaded picture, 0 black to 1 white, with what each stands for."""

    tones: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Work:
    """A step of the build, to be ticked by `box`, whose text is its title. caution: what to mind,
    a sentence."""

    number: int
    box: Box
    texts: tuple[str, ...]
    picture: Illustration | None = None
    caution: str = ""


Block = Heading | Text | Bullets | Boxes | Table | Views | Tones | Work


@dataclass(frozen=True)
class Section:
    """A part of the plan that a reader looks for. room: it begins on a new page unless this share
    of the present one is left."""

    title: str
    blocks: tuple[Block, ...]
    room: float = 1.0


@dataclass(frozen=True)
class Plan:
    """The whole plan. size: of its pages where it is printed, mm; digest: of the suit that it is
    for, by which ticks are kept apart; cover: what stands before the sections."""

    title: str
    size: tuple[float, float]
    digest: str
    cover: tuple[Block, ...]
    sections: tuple[Section, ...]

    def boxes(self) -> list[Box]:
        """Everything there is to tick, in order."""
        found = []
        for block in (*self.cover, *(b for s in self.sections for b in s.blocks)):
            if isinstance(block, Boxes):
                found += block.items
            elif isinstance(block, Work):
                found.append(block.box)
        return found
