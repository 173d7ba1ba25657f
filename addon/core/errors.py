"""Findings: what is wrong, where, and what the maker can do about it.

A finding is data, not a printout: the command prints it, Blender's sidebar
lists it and selects its elements, and `report.json` carries it unchanged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ERROR, WARNING, NOTE = "error", "warning", "note"
SEVERITIES = (ERROR, WARNING, NOTE)


def _indices(values, width: int | None = None) -> np.ndarray:
    array = np.array(values, dtype=np.int64)
    array = array.reshape(-1, width) if width else array.reshape(-1)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, eq=False)
class Finding:
    """One thing the maker should know.

    `code` is a stable short name such as "closed-without-seam"; `message` says
    what is wrong and `remedy` what to do, each as whole sentences. `vertices`
    (n,), `faces` (m,) and `edges` (k, 2) index the Sculpt; `piece` is a piece
    code where the finding concerns one piece.
    """

    code: str
    severity: str
    message: str
    remedy: str
    vertices: np.ndarray = ()
    edges: np.ndarray = ()
    faces: np.ndarray = ()
    piece: str = ""

    def __post_init__(self):
        if self.severity not in SEVERITIES:
            raise ValueError(f"unknown severity {self.severity!r}")
        object.__setattr__(self, "vertices", _indices(self.vertices))
        object.__setattr__(self, "edges", _indices(self.edges, 2))
        object.__setattr__(self, "faces", _indices(self.faces))

    def __str__(self) -> str:
        where = f" [{self.piece}]" if self.piece else ""
        return f"{self.severity}: {self.code}{where}: {self.message} {self.remedy}"


class FoamError(Exception):
    """A stage cannot go on. Carries the finding (or several) that say why."""

    def __init__(self, *findings: Finding):
        if not findings:
            raise ValueError("a FoamError needs at least one finding")
        self.findings = findings
        super().__init__("\n".join(str(f) for f in findings))

    @property
    def finding(self) -> Finding:
        return self.findings[0]


class Cancelled(Exception):
    """The maker stopped a long piece of work; nothing was written."""


def severity_rank(finding: Finding) -> int:
    """0 for errors, 1 for warnings, 2 for notes: the order of every list of findings."""
    return SEVERITIES.index(finding.severity)
