"""The body measures are those of the public data they are said to come from."""

import csv
from pathlib import Path

import pytest

from addon.core.measures import MEASURES

# Names of our measures in the public data of ANSUR II.
NAMES = {
    "stature": "stature", "waist height": "waistheightomphalion", "shoulders": "bideltoidbreadth",
    "knee height": "kneeheightmidpatella", "back length": "waistbacklength",
    "upper arm length": "shoulderelbowlength", "forearm length": "radialestylionlength",
    "head length": "headlength", "head breadth": "headbreadth", "head": "headcircumference",
    "neck": "neckcircumference", "chest": "chestcircumference", "waist": "waistcircumference",
    "hips": "buttockcircumference", "upper arm": "bicepscircumferenceflexed",
    "forearm": "forearmcircumferenceflexed", "wrist": "wristcircumference",
    "thigh": "thighcircumference", "calf": "calfcircumference",
}


def test_the_figures_are_those_of_the_public_data(percentiles):
    for name, (_, women, men) in MEASURES.items():
        for figures, sex in ((women, "FEMALE"), (men, "MALE")):
            assert percentiles[NAMES[name], sex] == pytest.approx(figures, abs=0.06), (name, sex)


@pytest.fixture
def percentiles():
    path = Path(__file__).resolve().parents[3] / "shared/data/body/ansur_percentiles_mm.csv"
    if not path.exists():
        pytest.skip("the percentiles of the public data are not here")
    with path.open() as file:
        head, *rows = csv.reader(file)
    columns = [head.index(p) for p in ("0.05", "0.5", "0.95")]
    return {(row[0], row[1]): [float(row[c]) for c in columns] for row in rows}
