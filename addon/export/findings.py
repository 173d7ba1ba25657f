"""Many findings as a short list: those of one kind under one line, the most serious first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..core.errors import SEVERITIES

# What findings of one code are called together. Within a severity they are listed in this
# order: first what is wrong with the sculpt, then what keeps it from being laid flat, then what
# the foam will not do, last what is only worth knowing. A code whose finding ends the work by
# itself needs no place here; its message is short and leads.
TITLES = {
    "scene-without-units": "A scene without units",
    "unit-assumed": "Numbers without a unit",
    "implausible-size": "A size that cannot be right",
    "bad-sizes": "Rows of sizes that cannot be right",
    "bad-measurement": "Measurements that cannot be right",
    "unlikely-size": "Sizes that are not likely",
    "object-without-faces": "Objects without faces",
    "not-finite": "Vertices that lie nowhere",
    "no-place": "An object that lies nowhere",
    "line-nowhere": "A drawn line that lies nowhere",
    "zero-area-face": "Faces without area",
    "duplicate-face": "Faces on top of each other",
    "split-vertices": "Edges that only look joined",
    "repeated-face": "Repeated faces",
    "collapsed-face": "Collapsed faces",
    "non-manifold-edge": "Edges where foam would branch",
    "one-sided": "Surfaces with a single side",
    "flipped-normals": "Faces that look inward",
    "negative-scale": "Negative scales",
    "marks-lost": "Marks lost to modifiers",
    "smeared-marks": "Smeared marks",
    "guide-off-surface": "Lines away from the surface",
    "guide-of-another": "Lines that lie on another object",
    "lines-not-copied": "Copies without the lines of the sculpt",
    "double-walled": "Parts with both faces of the foam",
    "crumbs": "Tiny loose parts",
    "raised-shape": "Shapes that stand out",
    "recessed-shape": "Shapes that lie deeper",
    "closed-without-seam": "Closed parts without a seam",
    "tube": "Tubes to be opened",
    "cannot-flatten": "Pieces that cannot be laid flat",
    "detail-floats": "Details that do not touch",
    "detail-overhangs": "Details that reach over an edge",
    "detail-spans-seam": "Details across a seam",
    "overlaps-itself": "Pieces that overlap themselves",
    "needs-relief": "Pieces that need relief",
    "too-large-to-suggest": "Too large for seams to be proposed",
    "suggested-piece-fails": "Proposed pieces that foam does not take",
    "tight-spot": "Spots that the foam bridges",
    "tighter-than-thickness": "Bends tighter than the foam is thick",
    "bad-layout": "Layouts that must not be cut",
    "larger-than-mat": "Pieces larger than a mat",
    "try-on-scrap": "Pieces to try on scrap",
    "unmarked-fold": "Folds without a mark",
    "trench-on-score": "Edges that are trench and score line",
    "trenches-overlap": "Trenches that overlap",
    "steep-bevel": "Steep bevels",
    "bevel-turns": "Bevels that turn",
    "finish-impossible": "Seam finishes that the foam does not take",
    "narrow-strip": "Narrow strips",
    "ease-seam": "Seams to ease",
    "comes-out-otherwise": "Pieces that come out otherwise",
    "lengths-differ-formed": "Seams whose edges differ once formed",
    "fold-otherwise": "Seams that close to another fold",
    "trench-beside-its-line": "Trenches that fold beside their line",
    "no-way-in": "Rings that nothing gets into",
    "glued-across": "Removable joins that glue holds",
    "part-stuck": "Parts that cannot come off",
    "block-impossible": "Removable joins too steep for a block",
    "gap-shows": "Gaps that show",
    "squeeze-in": "Joins to squeeze in",
    "moved-seam": "Seams that were moved",
    "solidify-skipped": "Solidify modifiers left out",
    "line-without-sculpt": "Lines that belong to no sculpt",
    "line-on-seam": "Lines on a seam",
    "mark-on-rim": "Marks on the rim",
    "mark-without-face": "Marks on no face",
    "parted-for-mat": "Pieces parted to fit a mat",
    "pair-on-two-mats": "Pairs that no mat takes together",
    "needs-heat": "Pieces to form with heat",
    "corner-open": "Corners that stay open",
    "thickness-step": "Steps where thick foam meets thin",
    "open-part": "Parts to hold at their tapes",
    "no-seams-needed": "No seams needed",
    "coarse-sculpt": "A sculpt of large faces",
    "suggested-seams": "Proposed seams",
    "details-left-out": "Details to lay on the shell",
    "awkward-strip": "Awkward strips",
    "small-hole": "Small holes",
    "loose-parts": "Parts that are not joined",
    "closed-solid": "Closed solids",
    "loose-vertices": "Loose vertices",
    "presses": "Pieces that reach into the body",
    "little-ease": "Girths with little ease",
    "no-girth": "Heights without a girth",
    "plates-meet": "Movements that plates hold back",
    "parts-cross": "Parts that are in one another",
    "box-too-small": "Boxes too small for all parts",
    "part-off-body": "Parts that lie off the body",
    "open-body": "A body that is not closed",
    "implausible-body": "A body of a size that no one has",
    "mixed-body": "A body whose faces look to different sides",
    "turned-body": "A body whose faces look inward",
    "rod-without-size": "Rods without length or thickness",
    "rod-bends-too-tightly": "Rods that bend too tightly",
    "rod-diameter": "Rods of a thickness that is not sold",
    "rod-longer-than-sold": "Rods longer than they are sold",
    "mark-off-surface": "Rivets, holes and other marks away from the surface",
    "mark-over-edge": "Rivets, holes and other marks over an edge",
    "row-without-room": "Rows without room on their line",
    "mark-unreadable": "Rivets, holes and other marks with sizes that make no sense",
    "strip-left-out": "Strips without a place on the sculpt",
    "strip-bends-too-tightly": "Strips that bend too tightly",
    "strip-in-parts": "Strips longer than a mat",
    "strip-unreadable": "Strips with sizes that make no sense",
    "rod-tapers": "Rods that taper",
    "widening-lost": "Widenings without a seam",
    "seam-widened": "Seams at which the suit was widened",
}
_ORDER = {code: place for place, code in enumerate(TITLES)}


@dataclass(frozen=True)
class Group:
    """Findings of one kind with one remedy; members index the list that was grouped."""

    code: str
    severity: str
    title: str  # of all of them together
    remedy: str
    members: tuple[int, ...]


def grouped(findings: Sequence) -> list[Group]:
    """The groups of findings, most serious first; members keep their order.

    Takes anything with the code, severity, message, remedy and piece of a Finding.
    """
    together: dict[tuple[str, str, str], list[int]] = {}
    for index, finding in enumerate(findings):
        key = finding.severity, finding.code, finding.remedy
        together.setdefault(key, []).append(index)
    groups = [Group(code, severity, TITLES.get(code, findings[members[0]].message), remedy,
                    tuple(members))
              for (severity, code, remedy), members in together.items()]
    return sorted(groups, key=lambda group: (
        SEVERITIES.index(group.severity), _ORDER.get(group.code, -1)))

