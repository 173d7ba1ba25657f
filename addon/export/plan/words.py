"""The standing texts of the plan: tools, how to glue, cautions."""

from __future__ import annotations

from ...core.model import Rates

TOOLS = (
    "A snap-off knife with fresh blades, scissors for paper, a cutting mat, a steel rule.",
    "A pen that shows on foam, and masking tape for trying a seam before it is glued.",
    "A stiff brush for cement, a heat gun, something round to form over: a bowl, a ball, a tube.",
    "Gloves, safety glasses, a dust mask or respirator, and moving air.",
)

GLUING = (
    "Tape the seam first, dry. Every notch must meet its twin; where one edge is a little longer, "
    "spread the difference between the notches.",
    "Brush a thin coat of contact cement on both faces. Foam drinks the first coat: where a face "
    "looks dull after drying, coat it again.",
    "Wait until both faces are dry to the touch, 5 to 20 minutes. The label of your cement wins.",
    "Press the two ends together first, then the middle, then halve what is left. It holds at once "
    "and does not slide, so let the faces touch only where they belong.",
    "On a closed ring press one notch, then the one opposite, then in between.",
    "Check the fold while the cement is young: it still gives a little in the first minutes.",
)

# Exposure limits as printed by OSHA, NIOSH and ACGIH, quoted from memory in the trade notes.
CAUTIONS = (
    ("Solvent", "Contact cement gives off vapour that harms and burns. Work outdoors or in moving "
     "air, away from flames, sparks and heat guns, and cover wet cement. Many cements hold "
     "toluene, for which the limits in workplaces are 20 ppm (ACGIH), 100 ppm (NIOSH) and 200 ppm "
     "(OSHA); smell is no measure of safety. Read the label and the safety data sheet."),
    ("Blades", "Change blades often: a blunt one slips. Cut away from your body and your other "
     "hand, never towards a hand that holds the foam, and collect old blades in a closed tin."),
    ("Heat", "A heat gun burns skin and starts fires. Keep it moving, rest it on its stand, work "
     "in moving air, and stop when foam smokes or smells sharp: hot EVA gives off acetic acid. "
     "Never near wet cement."),
    ("Dust", "Sanding and rotary tools throw fine dust and crumbs: wear a respirator and goggles, "
     "and collect the dust."),
    ("Laser", "Cut only foam known to be free of chlorine, never PVC, with extraction on, and "
     "never leave it alone: foam melts and flames."),
    ("Wearing", "Foam keeps heat in and narrows sight and hearing. Drink, rest, leave ways for "
     "air, and have somebody with you."),
    ("Rules", "Local rules, the rules of the venue and the makers' labels come before this plan. "
     "Where you are unsure, ask somebody who is qualified."),
)

FORMING = {"flat": "lies flat", "bend": "bends cold", "heat": "heat-form",
           "relief": "needs more relief"}

_COVERAGE = "308 square feet a US gallon; a maker's page, author not known"


def coverage_note(coverage: float) -> str:
    """Where the amount of cement comes from; coverage: square metres that a litre coats."""
    source = _COVERAGE if coverage == Rates().coverage else "as you gave it"
    return (f"Cement is reckoned at {coverage:g} m² a litre and face ({source}) with half as much "
            "again for what foam and brush drink. One blade is reckoned for 5 m of cut (common "
            "practice, no source).")


RATES_NOTE = (
    "Rates of work are yours where you gave them, else common practice without a source: the "
    "first suit takes longer. Painting, fitting and mistakes are not counted. Cement dries while "
    "you work on another part, so the waiting is told by itself.")
WEIGHT_NOTE = (
    "Area of the pieces, times thickness, times the density of the stock: without cement, paint "
    "and fittings, and before bevels and trenches are cut out of it.")

LIMITS_NOTE = (
    "Cold and heated say how much of what the foam takes is used up; 100 % is the limit. The "
    "limits are shipped starting values or your own: between 100 and 150 % heated, try on scrap "
    "first.")
