"""Repeats and mirror images: printed once, cut as often as needed, and lettered alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from .model import Mate, Piece

ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O, mistaken for 1 and 0


def letter(number: int) -> str:
    """Letters of the number-th set of mates, from 0: A, B, … Z, AA, AB, …"""
    text = ""
    number += 1
    while number:
        number, digit = divmod(number - 1, len(ALPHABET))
        text = ALPHABET[digit] + text
    return text


def apply_pairs(pieces: Sequence[Piece], mates: Sequence[Mate],
                ) -> tuple[tuple[Piece, ...], tuple[Mate, ...]]:
    """Pieces with their template, and mates with code and letter."""
    named = {}
    edges = {}
    for i, mate in enumerate(mates):
        named[i] = replace(mate, code=letter(i), letter=letter(i))
        for side in mate.edges:
            edges[side] = named[i]
    done = []
    for piece in pieces:
        own = []
        for k, edge in enumerate(piece.edges):
            mate = edges.get((piece.code, k))
            own.append(replace(edge, mate=mate.code, letter=mate.letter) if mate else edge)
        done.append(replace(piece, edges=tuple(own), template=piece.code,
                            copies=1, mirrored=0, flipped=False))
    return tuple(done), tuple(named.values())
