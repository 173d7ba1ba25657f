"""Findings as they are printed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..core.errors import Finding
from ..export.findings import Group, grouped

SHOWN = 8  # indices of elements printed for a finding; report.json has them all


def blocks(findings: Sequence[Finding]) -> list[str]:
    """A block for every kind of finding, most serious first."""
    return [_finding(findings[group.members[0]]) if len(group.members) == 1
            else _group(group, [findings[i] for i in group.members])
            for group in grouped(findings)]


def _group(group: Group, findings: Sequence[Finding]) -> str:
    """Several findings of one kind: what to do once, then each in a line."""
    lines = [f"{group.severity} ({group.code}): {group.title}, {len(findings)} times",
             f"    {group.remedy}"]
    for finding in findings[:SHOWN]:
        lines.append(f"    - {finding.piece}: {finding.message}" if finding.piece
                     else f"    - {finding.message}")
        lines += [f"    {line}" for line in _elements(finding)]
    if len(findings) > SHOWN:
        lines.append(f"    - and {len(findings) - SHOWN} more")
    return "\n".join(lines)


def _finding(finding: Finding) -> str:
    piece = f", piece {finding.piece}" if finding.piece else ""
    return "\n".join([f"{finding.severity} ({finding.code}{piece}): {finding.message}",
                      f"    {finding.remedy}", *_elements(finding)])


def _elements(finding: Finding) -> list[str]:
    """The vertices, edges and faces a finding is about, the first few of each."""
    lines = []
    for name in ("vertices", "edges", "faces"):
        elements = getattr(finding, name)
        if len(elements):
            shown = ", ".join("-".join(map(str, np.atleast_1d(e))) for e in elements[:SHOWN])
            more = f" and {len(elements) - SHOWN} more" if len(elements) > SHOWN else ""
            lines.append(f"    {name}: {shown}{more}")
    return lines
